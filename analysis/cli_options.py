"""Arguments and options that several commands share, and how a result is printed."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated, Any

import typer

TrialPath = Annotated[
    Path, typer.Argument(metavar="TRIAL", help="A trial's folder, or one file of loaves.")
]
TrialPaths = Annotated[
    list[Path] | None,
    typer.Argument(
        metavar="TRIAL...",
        help="Folders of trials, or files of loaves; the current folder if silent.",
        show_default=False,
    ),
]
AsJson = Annotated[bool, typer.Option("--json", help="Print the result as data.")]
MeasureName = Annotated[
    str | None, typer.Option("--measure", help="What to judge by; else the card's measure.")
]
Confidence = Annotated[
    float, typer.Option("--confidence", min=0.5, max=0.999, help="Level of the intervals.")
]
Sheet = Annotated[
    str | None, typer.Option("--sheet", help="The workbook's sheet of loaves, if it is not found.")
]
Locale = Annotated[str, typer.Option("--locale", help="How numbers are written, such as en or de.")]
HERE = Path(".")


def say(text: str, err: bool = False) -> None:
    """Print text, with nothing in it that a terminal would obey."""
    from ..trials.words.characters import visible  # only now: ``--help`` must not wait for tables

    typer.echo(visible(text), err=err)


def show(result: Any, as_json: bool) -> None:
    """Print a result: data as JSON, text as it is."""
    say(json.dumps(result, indent=2, ensure_ascii=False, allow_nan=False) if as_json else result)

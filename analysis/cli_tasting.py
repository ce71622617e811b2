"""The commands about people as instruments: wiring only, as in `cli`."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from ..trials.lazy_names import load_little
from ..trials.words.numbers import number_style
from .cli_options import HERE, AsJson, Confidence, Locale, Sheet, TrialPath, show

app = typer.Typer()

MayTell = Annotated[
    float | None,
    typer.Option("--may-tell", help="Share of people who may be able to tell, as 0.3."),
]
TestName = Annotated[
    str | None, typer.Option("--test", help="triangle, duo-trio, tetrad, three-choice, pair …")
]


class By(StrEnum):
    """What words are judged by."""

    LOAF = "loaf"
    FORMULA = "formula"


@app.command(
    epilog=(
        "Examples: fairloaf tasting my_trial --may-tell 0.3;  fairloaf tasting --test triangle "
        "--right 14 --of 30"
    )
)
def tasting(
    trial: TrialPath = HERE,
    may_tell: MayTell = None,
    test: TestName = None,
    right: Annotated[
        int | None, typer.Option("--right", help="Without files: how many answers were right.")
    ] = None,
    of: Annotated[
        int | None, typer.Option("--of", help="Without files: of how many people, one answer each.")
    ] = None,
    confidence: Confidence = 0.95,
    locale: Locale = "en",
    sheet: Sheet = None,
    as_json: AsJson = False,
) -> None:
    """Say whether people can tell the breads apart, which they prefer, how they rank them."""
    load_little()
    from .wording.tasting import counts_text, tasting_text

    style = number_style(locale)
    if not (test is None and right is None and of is None):
        if test is None or right is None or of is None:
            raise typer.BadParameter(
                "go together: without files, give all three.", param_hint="--test, --right and --of"
            )
        from .answers_of_tasting import taste_counts

        counted = taste_counts(test, right, of, may_tell, confidence, style)
        show(counted.to_dict() if as_json else counts_text(counted, style), as_json)
        return
    from ..trials import load_trial
    from .answers_of_tasting import tasting_answers
    from .wording.findings import with_warnings

    records = load_trial(trial, sheet=sheet)
    result = tasting_answers(records, may_tell=may_tell, confidence=confidence, style=style)
    show(
        result.to_dict()
        if as_json
        else with_warnings(tasting_text(result, style), records.findings),
        as_json,
    )


@app.command(epilog="Example: fairloaf words my_trial --by formula")
def words(
    trial: TrialPath = HERE,
    by: Annotated[
        By, typer.Option("--by", help="Loaf against loaf, or dough against dough.")
    ] = By.LOAF,
    locale: Locale = "en",
    sheet: Sheet = None,
    as_json: AsJson = False,
) -> None:
    """Say which of the words that people ticked tell the breads apart."""
    from ..trials import load_trial

    load_little()
    from .answers_of_tasting import words_seen
    from .wording.findings import with_warnings
    from .wording.tasting import allergen_line
    from .wording.words import words_text

    style = number_style(locale)
    records = load_trial(trial, sheet=sheet)
    result = words_seen(records, by=by.value, style=style)
    said = [words_text(result, style), allergen_line(records.card.tasting.allergens)]
    show(result.to_dict() if as_json else with_warnings("\n".join(said), records.findings), as_json)


@app.command(epilog="Example: fairloaf tasters --test triangle --can-tell 0.3")
def tasters(
    test: Annotated[
        str, typer.Option("--test", help="triangle, duo-trio, tetrad, three-choice or pair.")
    ],
    can_tell: Annotated[
        float | None, typer.Option("--can-tell", help="Share of people who can, as 0.3.")
    ] = None,
    d_prime: Annotated[
        float | None, typer.Option("--d-prime", help="Or the sensory distance, such as 1.")
    ] = None,
    may_tell: MayTell = None,
    power: Annotated[float, typer.Option("--power", help="Chance to show it.")] = 0.8,
    as_json: AsJson = False,
) -> None:
    """Say how many people a tasting needs."""
    load_little()
    from .answers_of_tasting import tasters_needed
    from .wording.tasting import needed_text

    result = tasters_needed(test, can_tell, d_prime, may_tell, power)
    show(result.to_dict() if as_json else needed_text(result), as_json)


@app.command(epilog="Example: fairloaf serve my_trial --assessors 24 --seed 7 --out tasting_day")
def serve(
    trial: TrialPath = HERE,
    assessors: Annotated[
        int | None, typer.Option("--assessors", help="How many people; else the card's.")
    ] = None,
    seed: Annotated[int, typer.Option("--seed", help="Another number draws another plan.")] = 1,
    out: Annotated[Path, typer.Option("--out", help="Folder for the files.")] = Path("tasting_day"),
    test: TestName = None,
    formula: Annotated[
        str | None, typer.Option("--formula", help="Of two breads, the one asked about.")
    ] = None,
    against: Annotated[
        str | None, typer.Option("--against", help="And the one to hold it against.")
    ] = None,
    repeats: Annotated[int, typer.Option("--repeats", help="Servings for each person.")] = 1,
    paper: Annotated[str, typer.Option("--paper", help="a4 or letter.")] = "a4",
    sheet: Sheet = None,
    as_json: AsJson = False,
) -> None:
    """Draw who is served what, and print ballots, tray list, key and empty records."""
    from ..trials.loading import read_trial
    from .sheets.serving import serve_tasting

    served = serve_tasting(
        read_trial(trial, sheet=sheet),
        out,
        assessors=assessors,
        seed=seed,
        test=test,
        formula=formula,
        against=against,
        repeats=repeats,
        paper=paper,
    )
    show(served.to_dict() if as_json else served.text, as_json)

"""Starting a trial from a spreadsheet that is there already: the file is copied, the card proposed,
nothing changed.
"""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from ..card import FILE
from ..checks.answerable import measured
from ..columns import label
from ..findings import Finding, TrialError
from ..frozen import frozen
from ..loading import assembled, read_trial
from ..reading.files import find_files, read_bytes
from ..reading.records import read_records
from ..trial import Trial
from ..words.for_card import factor_line, toml_text
from .columns_page import PAGE, columns_page
from .proposing import MOST_LEVELS, Proposal, propose, sections
from .starting import cannot_be_made

HEAD = """\
# The card of a trial, proposed from {file}. A line that starts with # is a note; take the # away to fill a line in.
# Take care: raw flour and dough are not tasted; ovens, tins and steam burn; list the allergens and ask for consent
# before anyone tastes. Local food-safety rules and trained staff come first.
title    = "{title}"
# question = "…"
{measure}# matters  = …                 # smallest difference worth acting on, in the measure's unit: yours to say
{control}
"""  # noqa: E501


@frozen(kw_only=True)
class Begun:
    """A trial that was begun from a spreadsheet: its folder, what was proposed, and the trial, None
    where the records cannot be read yet; ``stopped`` then says why."""

    folder: Path
    proposal: Proposal
    trial: Trial | None
    stopped: tuple[Finding, ...] = ()


def proposal_for(file: str | Path, *, sheet: str | None = None) -> Proposal:
    """Return what a spreadsheet seems to hold, before anything is written; raises TrialError where
    it is none.
    """
    path = Path(file)
    find_files(path)
    return propose(read_bytes(path, None), path.name, sheet=sheet)


def start_from(
    folder: str | Path,
    file: str | Path,
    named: Mapping[str, str] | None = None,
    *,
    sheet: str | None = None,
) -> Begun:
    """Make ``folder`` with a copy of ``file`` and a card that names its columns; ``named`` is
    header → name.

    A folder that holds this file already keeps everything, and gets the card alone.

    Raises
    ------
    TrialError: the file cannot be read, the folder is there and is not the file's, or has a card.
    Nothing is written.
    """
    folder, path = Path(folder), Path(file)
    if not path.is_file():
        find_files(path)  # says what is wrong with it
    inside = folder.is_dir() and path.resolve().parent == folder.resolve()
    if (folder / FILE).exists():
        raise TrialError.one(
            "already-there",
            f"{folder} has a card already.",
            "It was left as it is; move it away to have another one proposed.",
        )
    if folder.exists() and not inside:
        raise TrialError.one(
            "already-there",
            f"{folder} is there already.",
            "Choose another name, or put the file into it; nothing was written.",
        )
    content = read_bytes(path, None)
    proposal = propose(content, path.name, named, sheet)
    try:
        beside = Path(
            tempfile.mkdtemp(prefix=f".{folder.name or 'trial'}-", dir=folder.resolve().parent)
        )
    except OSError as problem:
        raise cannot_be_made(folder, problem) from None
    try:
        (beside / f"loaves{path.suffix.casefold()}").write_bytes(content)
        begun = _with_card(beside, folder, path, proposal, sheet)
        (beside / PAGE).write_text(columns_page(), "utf-8")
        if inside:
            os.replace(beside / FILE, folder / FILE)
            if not (folder / PAGE).exists():
                os.replace(beside / PAGE, folder / PAGE)
        else:
            beside.chmod(0o755)
            os.rename(beside, folder)
    except OSError as problem:
        raise cannot_be_made(folder, problem) from None
    finally:
        shutil.rmtree(beside, ignore_errors=True)
    return begun


def _with_card(
    beside: Path, folder: Path, path: Path, proposal: Proposal, sheet: str | None
) -> Begun:
    """Write the card, first with the columns alone, then with the factors and the measure that they
    lead to.
    """

    def write(measure: str = "", control: str = "", factors: str = "") -> None:
        head = HEAD.format(
            file=path.name,
            title=toml_text(folder.resolve().name),
            measure=measure,
            control=control or '# control  = "…"               # what the others are held against',
        )
        (beside / FILE).write_text(f"{head}\n{factors}{sections(proposal)}", "utf-8")

    write()
    try:
        trial = assembled(read_records(beside, sheet=sheet))
    except TrialError as stop:
        return Begun(folder=folder, proposal=proposal, trial=None, stopped=stop.findings)
    names = measured(trial.loaves, trial)
    first = "specific_volume" if "specific_volume" in names else names[0] if names else ""
    measure = (
        f'measure  = "{first}"   # {label(first).lower()}; there'
        f" {'are' if len(names) > 1 else 'is'}: "
        f"{', '.join(names)}\n"
        if first
        else ""
    )
    formulas = (
        list(map(str, trial.loaves["formula"].dropna().unique()))
        if "formula" in trial.loaves
        else []
    )
    control = (
        f'# control  = "{toml_text(formulas[0])}"   # what the others are held against'
        if formulas
        else ""
    )
    write(measure, control, _factors(trial))
    try:
        trial = read_trial(beside, sheet=sheet)
    except TrialError as stop:  # a name on the card that cannot stand there
        write()
        return Begun(folder=folder, proposal=proposal, trial=None, stopped=stop.findings)
    return Begun(folder=folder, proposal=proposal, trial=replace(trial, name=folder.resolve().name))


def _factors(trial: Trial) -> str:
    """Return the section [factors] with every level that was found."""
    lines = []
    for name in trial.factors:
        levels = trial.loaves[name].dropna().unique().tolist()
        if 1 < len(levels) <= MOST_LEVELS:
            lines.append(factor_line(name, levels))
    head = (
        "[factors]                      # what was changed on purpose; everything else was kept the"
        " same\n"
    )
    return head + "\n".join(lines) + "\n\n" if lines else ""

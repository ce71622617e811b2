"""What is said when a trial is begun from a spreadsheet."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from ...trials.columns import label
from ...trials.reading.wide import READING
from .findings import findings_lines, headline, plain_text

if TYPE_CHECKING:
    from ...trials.writing.starting_from import Begun


def question(header: str, how: str) -> str:
    """Return the question for a column that could not be placed."""
    return f"What is {plain_text(header)!r}? ({how}; Enter leaves it as it is)"


def begun_text(begun: Begun, source: Path) -> str:
    """Return what was read, what was not placed, what the records still need, and what to do
    next.
    """
    proposal = begun.proposal
    lines = [f"Made {begun.folder} from {source}, which was left as it is."]
    lines += [
        f"  {plain_text(text)!r} is read as {label(name).lower()} ({name}): {proposal.meant[name]}"
        for name, text in proposal.columns.items()
    ]
    wide = proposal.wide
    if wide and wide.turned:
        lines.append("  Every column is read as a loaf.")
    if wide and wide.over:
        what = " and ".join(label(name).lower() for name in wide.columns)
        becomes = (
            "The mean of each loaf's readings is its volume."
            if wide.over == READING
            else "Each becomes a row of its own."
        )
        lines.append(
            f"  {what.capitalize()} stand in a column for each {label(wide.over).lower()}: "
            f"{plain_text(', '.join(wide.levels))}. {becomes}"
        )
    lines += [f"Not placed: {plain_text(text)!r}: {how}" for text, how in proposal.unplaced.items()]
    if begun.trial is None:
        lines += ["The records cannot be read yet:", *findings_lines(begun.stopped)]
    else:
        lines += [
            headline(begun.trial.findings, begun.trial.name, len(begun.trial.loaves)),
            *findings_lines(begun.trial.findings),
        ]
    return "\n".join(
        [
            *lines,
            f"Next: look at {begun.folder / 'trial.toml'}, then  fairloaf check {begun.folder}",
        ]
    )


def begun_data(begun: Begun) -> dict[str, Any]:
    """Return the same as plain data."""
    findings = begun.trial.findings if begun.trial else begun.stopped
    wide = begun.proposal.wide
    return {
        "folder": str(begun.folder),
        "columns": dict(begun.proposal.columns),
        "not_placed": list(begun.proposal.unplaced),
        "over": wide.over if wide else None,
        "turned": bool(wide and wide.turned),
        "findings": [finding.to_dict() for finding in findings],
    }

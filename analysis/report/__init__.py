"""The report of a trial: for a class, for a bakery, for the file; as a page, a PDF, a workbook and
data.

Read in this order: ``summary`` (what the trial shows, computed once), ``sections`` (what each
reader is told), ``document`` (what a report is made of), then one module a form: ``html``, ``pdf``,
``workbook``, ``data``.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ...trials import Trial
from ...trials.frozen import frozen
from ...trials.words.numbers import ENGLISH, NumberStyle
from ..one_thread import in_one_thread
from ..second_process import Ask, here
from ..wording.report import STEPS, answer_text, files_text

if TYPE_CHECKING:
    from .pictures import Drawer
    from .summary import Summary

AUDIENCES = ("class", "wall", "bakery", "record")
FORMS = ("html", "pdf", "xlsx", "json")
PICTURES = ("svg", "png")


@frozen
class Written:
    """What was written: the answer in one sentence, its verdict (None where there is none) and the
    files.

    ``label`` is what the verdict is called, ``warnings`` what the records give to mind beside the
    answer; ``replaced`` are those of the files where a report of other records stood.
    """

    answer: str
    verdict: str | None
    label: str
    warnings: tuple[str, ...]
    files: tuple[Path, ...]
    replaced: tuple[Path, ...] = ()

    @property
    def text(self) -> str:
        """Return what a person is told: the answer, and where the report is."""
        told = answer_text(self.answer, self.label, self.warnings)
        return f"{told}\n\n{self.where}"

    @property
    def where(self) -> str:
        """Return what a person is told of the files."""
        return files_text([str(path) for path in self.files], [str(path) for path in self.replaced])

    def to_dict(self) -> dict[str, Any]:
        """Return plain data, as ``--json`` prints it."""
        return {
            "answer": self.answer,
            "verdict": self.verdict,
            "warnings": list(self.warnings),
            "files": [str(path) for path in self.files],
            "replaced": [str(path) for path in self.replaced],
        }


def write_report(
    trial: Trial,
    out: str | Path = ".",
    audience: str = "bakery",
    forms: Sequence[str] = ("html",),
    style: NumberStyle = ENGLISH,
    confidence: float = 0.95,
    progress: Callable[[str], None] | None = None,
    measure: str | None = None,
    matters: float | None = None,
) -> Written:
    """Write the report of a trial into a folder, which is made where it is not there.

    Parameters
    ----------
    audience : "class" (one page that names nobody), "wall" (the same in large letters, the answer
        alone), "bakery" (two pages) or "record" (everything,
        with who did it)
    forms : any of "html", "pdf", "xlsx", "json", and "svg" or "png" for every picture as a file of
        its own; the same trial gives the same bytes in each
    style : how the reader writes numbers, and the language that the page declares
    progress : told in a few words what is being done
    measure, matters : what to judge by, and the smallest difference of it worth acting on; the
        card's where not given

    Raises
    ------
    ValueError: no such audience or form.
    TrialError: no such measure, what matters is no number above zero, nothing can be analysed, or a
    file that
        is no report of ours is in the way; nothing is written then.
    """
    _known("audience", [audience], AUDIENCES)
    _known("form", forms, (*FORMS, *PICTURES))
    whole = "json" in forms
    summary = answered(trial, audience, style, confidence, progress, measure, matters, whole=whole)
    return write_answered(summary, out, audience, forms, progress)


@in_one_thread
def answered(
    trial: Trial,
    audience: str = "bakery",
    style: NumberStyle = ENGLISH,
    confidence: float = 0.95,
    progress: Callable[[str], None] | None = None,
    measure: str | None = None,
    matters: float | None = None,
    ask: Ask = here,
    whole: bool = True,
    drawer: Drawer | None = None,
) -> Summary:
    """Return everything that `write_report` would write, before anything is drawn here; ``whole``:
    and what this reader is not shown, as data are. ``ask`` asks who works out a part of it, and
    ``drawer`` begins to draw.
    """
    from .nameless import nameless
    from .summary import PARTS, SHOWN, summarise

    if audience in ("class", "wall"):
        trial = nameless(trial)
    asked = _asking(trial, measure, matters)
    parts = PARTS if whole else SHOWN.get(audience, PARTS)
    compared = drawer.begin if drawer is not None else _silent
    return summarise(asked, confidence, style, progress or _silent, ask, parts, compared)


def write_answered(
    summary: Summary,
    out: str | Path,
    audience: str,
    forms: Sequence[str],
    progress: Callable[[str], None] | None = None,
    drawer: Drawer | None = None,
) -> Written:
    """Write what was answered as `write_report` does; ``drawer`` draws the pictures."""
    from ...trials.writing.whole_files import records_of, write_whole
    from .pictures import drawn
    from .rendering import fingerprint, render, render_pictures
    from .sections import report_for

    tell, trial = progress or _silent, summary.trial
    tell(STEPS["pictures"])
    report = report_for(summary, audience, drawer.drawn if drawer is not None else drawn)
    name = re.sub(r"[^\w.-]+", "_", trial.name).strip("._") or "trial"
    contents: dict[Path, bytes] = {}
    for form in dict.fromkeys(forms):
        tell(STEPS[form])
        if form in PICTURES:
            files = render_pictures(form, report, summary)
            contents |= {Path(out) / f"{name}-{audience}-{of}": file for of, file in files.items()}
        else:
            contents[Path(out) / f"{name}-{audience}.{form}"] = render(form, report, summary)
    own = fingerprint(trial.sources)
    others = tuple(path for path in contents if records_of(path) not in ("", own))
    write_whole(contents)
    return Written(
        summary.answer,
        summary.verdict,
        summary.verdict_label,
        summary.warnings,
        tuple(contents),
        others,
    )


def _silent(told: object) -> None:
    """Tell nobody what is being done."""


def _asking(trial: Trial, measure: str | None, matters: float | None) -> Trial:
    """Return the trial with the measure and the difference that were asked for on its card."""
    if measure is None and matters is None:
        return trial
    from ..asking.question import refuse_unknown_measure, refuse_what_cannot_matter

    refuse_unknown_measure(trial, measure)
    refuse_what_cannot_matter(matters)
    return replace(trial, card=trial.card.asking(measure, matters))


def _known(what: str, given: Sequence[str], known: Sequence[str]) -> None:
    wrong = [value for value in given if value not in known]
    if wrong:
        raise ValueError(
            f"no such {what}: {', '.join(map(repr, wrong))}; there are: {', '.join(known)}"
        )

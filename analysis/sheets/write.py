"""Write the sheets of a planned trial: every PDF and the workbook, whole or not at all."""

from __future__ import annotations

from collections.abc import Iterable
from importlib.metadata import version
from pathlib import Path
from typing import Any

from ...trials import Finding, TrialError
from ...trials.frozen import frozen
from ...trials.planning.kept import kept_plan, plan_mark
from ...trials.planning.result import TrialPlan
from ...trials.planning.timetable import bench_timetable
from ...trials.planning.weigh_out import weigh_out
from ...trials.printing.book import book_bytes
from ...trials.printing.paper import PAPERS, Paper
from ...trials.printing.sheet import Part, Sheet
from ...trials.printing.sheet_pdf import sheet_pdf
from ...trials.sheets.blind import key_rows, label_days, measure_sheet
from ...trials.sheets.run import run_days
from ...trials.sheets.score import score_pages
from ...trials.sheets.weigh import weigh_pages
from ...trials.sheets.workbook import book_sheets
from ...trials.words.numbers import NumberStyle, number_style
from ...trials.writing.records_there import headers_there, records_there
from ...trials.writing.whole_files import SHEET_MARK, write_whole
from ..wording import sheets as say
from . import bench, blind

FORMS = ("pdf", "xlsx")
BLIND = ("measure", "score", "labels")
BOOK, TABLE = "loaves.xlsx", "loaves.csv"


@frozen(kw_only=True)
class WrittenSheets:
    """The files that were written, and what was found or left out on the way."""

    paths: tuple[Path, ...]
    mark: str
    findings: tuple[Finding, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        """Return plain data, as ``--json`` prints it."""
        return {
            "paths": [str(path) for path in self.paths],
            "plan": self.mark,
            "findings": [finding.to_dict() for finding in self.findings],
        }


def write_sheets(
    folder: str | Path,
    *,
    paper: str = "a4",
    forms: Iterable[str] = FORMS,
    out: str | Path | None = None,
    locale: str = "en",
) -> tuple[Path, ...]:
    """Write the sheets of the plan in a trial's folder and return their paths.

    ``paper`` is "a4" or "letter"; ``forms`` "pdf", "xlsx" or both. The PDFs go into ``out``, the
    folder ``sheets`` of the trial where it is silent; the workbook loaves.xlsx takes the place of
    the empty loaves.csv in the trial.

    Raises
    ------
    TrialError: there is no plan, it was changed, loaves are recorded already, or a file cannot be
    written. Nothing
        is written then.
    ValueError: the paper or a form is not known.
    """
    return make_sheets(folder, paper=paper, forms=forms, out=out, locale=locale).paths


def make_sheets(
    folder: str | Path,
    *,
    paper: str = "a4",
    forms: Iterable[str] = FORMS,
    out: str | Path | None = None,
    locale: str = "en",
) -> WrittenSheets:
    """Write the sheets, as ``write_sheets`` does, and return their paths with what is to be
    told.
    """
    folder, forms = Path(folder), tuple(forms)
    if paper not in PAPERS:
        raise ValueError(f"the paper is {' or '.join(PAPERS)}, not {paper!r}")
    if not forms or set(forms) - set(FORMS):
        raise ValueError(
            f"forms are {' and '.join(FORMS)}, not {', '.join(map(repr, forms)) or 'none'}"
        )
    plan, style = kept_plan(folder), number_style(locale)
    made: dict[Path, bytes] = {}
    findings: list[Finding] = []
    if "xlsx" in forms:
        _refuse_records(folder)
    if "pdf" in forms:
        sheets, findings = pdf_sheets(plan, PAPERS[paper], style)
        into = Path(out) if out is not None else folder / "sheets"
        made |= {
            into / f"{name}.pdf": sheet_pdf(
                sheet, PAPERS[paper], f"{SHEET_MARK}, version {version('fairloaf')}"
            )
            for name, sheet in sheets.items()
        }
    if "xlsx" in forms:
        made[folder / BOOK] = workbook(plan, PAPERS[paper], headers_there(folder))
        _refuse_records(folder)  # once more: somebody may have begun to fill them in meanwhile
    write_whole(made, replaceable=[folder / BOOK], mark=SHEET_MARK)
    if "xlsx" in forms:
        (folder / TABLE).unlink(missing_ok=True)
    return WrittenSheets(paths=tuple(made), mark=plan_mark(plan), findings=tuple(findings))


def workbook(plan: TrialPlan, paper: Paper, headers: Iterable[str] = ()) -> bytes:
    """Return the workbook to fill in; it holds codes and no formula, tin or place."""
    sheets = book_sheets(plan, say.VOID_REASONS, headers)
    return book_bytes(sheets, paper, f"{SHEET_MARK}, plan {plan_mark(plan)}", say.OUT_OF_RANGE)


def pdf_sheets(
    plan: TrialPlan, paper: Paper, style: NumberStyle
) -> tuple[dict[str, Sheet], list[Finding]]:
    """Return every sheet that the plan has, by its name, with what was found and what was left
    out.
    """
    timed, weighed = bench_timetable(plan), weigh_out(plan)
    why = " ".join(finding.message for finding in timed.conflicts)
    scores = plan.card.scores
    parts: dict[str, tuple[Part, ...]] = {
        "run": bench.run_parts(
            run_days(plan, timed), plan.card, style, why, [note.message for note in timed.notes]
        ),
        "weigh": bench.weigh_parts(weigh_pages(plan, weighed), plan.card, style),
        "measure": blind.measure_parts(measure_sheet(plan), plan.card, paper),
        "score": blind.score_parts(score_pages(plan), scores, paper, style) if scores else (),
        "labels": blind.label_parts(label_days(plan)),
        "key": bench.key_parts(key_rows(plan), plan, style),
    }
    findings = [*timed.conflicts, *weighed.findings]
    if not parts["score"]:
        findings.append(
            Finding(
                code="no-scores",
                severity="note",
                message=say.NO_SCORES,
                fix='Write under  [scores]  attributes = ["openness"]  where loaves are scored.',
            )
        )
    mark, title = plan_mark(plan), say.shortened(plan.card.title)
    return {
        name: Sheet(
            kind=say.KINDS[name],
            mark=mark,
            parts=some,
            title="" if name in BLIND else title,
            language=style.language.partition("-")[0],
            words_of_page=say.PAGE,
        )
        for name, some in parts.items()
        if some
    }, findings


def _refuse_records(folder: Path) -> None:
    """Raise where the folder's loaves hold anything but codes."""
    there = records_there(folder)
    if there:
        raise TrialError.one(
            "records-there",
            f"{there} holds records already.",
            "They stay as they are, and nothing was written. For the printed sheets alone: "
            " --form pdf",
            file=there,
        )

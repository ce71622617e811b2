"""From one report to the bytes of one form."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from importlib.metadata import version

from ...trials.printing.document import Report
from ...trials.writing.whole_files import MARK
from .summary import Summary


def mark(sources: Mapping[str, str]) -> str:
    """Return the words by which a file is known as a report of ours, and of which records."""
    return f"{MARK}, version {version('fairloaf')}, records {fingerprint(sources)}"


def fingerprint(sources: Mapping[str, str]) -> str:
    """Return twelve signs that stand for the records: file name → SHA-256, whatever their order."""
    return hashlib.sha256(repr(sorted(sources.items())).encode()).hexdigest()[:12]


def render(form: str, report: Report, summary: Summary) -> bytes:
    """Return the report as "html", "pdf", "xlsx" or "json"."""
    if form == "html":
        from ...trials.printing.html import html_page

        return html_page(report, mark(summary.trial.sources))
    if form == "pdf":
        from ...trials.printing.pdf import pdf_pages

        return pdf_pages(report, mark(summary.trial.sources))
    if form == "xlsx":
        from .workbook import workbook

        return workbook(report, summary.trial, mark(summary.trial.sources))
    from .data import report_data

    return report_data(report, summary, mark(summary.trial.sources))


def render_pictures(form: str, report: Report, summary: Summary) -> dict[str, bytes]:
    """Return every picture as "svg" or "png": the end of its name (``1-answer.svg``) → the file."""
    from ...trials.printing.picture_files import png_file, svg_file

    draw = svg_file if form == "svg" else png_file
    made_by = mark(summary.trial.sources)
    return {
        f"{i}-{section.id}.{form}": draw(shown.svg, made_by)
        for i, (section, shown) in enumerate(report.pictures(), 1)
    }

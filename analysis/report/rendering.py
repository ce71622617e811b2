"""From one report to the bytes of one form."""

from __future__ import annotations

from importlib.metadata import version

from ...trials.printing.document import Report
from ...trials.writing.whole_files import MARK
from .summary import Summary


def mark() -> str:
    """Return the words by which a file is known as a report of ours."""
    return f"{MARK}, version {version('fairloaf')}"


def render(form: str, report: Report, summary: Summary) -> bytes:
    """Return the report as "html", "pdf", "xlsx" or "json"."""
    if form == "html":
        from ...trials.printing.html import html_page

        return html_page(report, mark())
    if form == "pdf":
        from ...trials.printing.pdf import pdf_pages

        return pdf_pages(report, mark())
    if form == "xlsx":
        from .workbook import workbook

        return workbook(report, summary.trial, mark())
    from .data import report_data

    return report_data(report, summary, mark())

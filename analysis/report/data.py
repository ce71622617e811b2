"""The report as data: every result to ten digits, and every sentence, under names that the schema
explains.
"""

from __future__ import annotations

import json
from importlib.metadata import version
from pathlib import Path
from typing import Any

from ...trials.printing.document import Answer, Points, Report, Section, Shown, Text
from ..plain_data import plain
from .summary import Summary

SCHEMA = Path(__file__).parent / "report.schema.json"
FORMAT = 1


def report_data(report: Report, summary: Summary, mark: str) -> bytes:
    """Return the report as JSON in UTF-8, as ``report.schema.json`` describes it."""
    data = report_dict(report, summary, mark)
    return (json.dumps(data, indent=1, ensure_ascii=True, allow_nan=False) + "\n").encode("ascii")


def report_dict(report: Report, summary: Summary, mark: str) -> dict[str, Any]:
    """Return the report as plain data."""
    trial, card = summary.trial, summary.trial.card
    return {
        "format": FORMAT,
        "made_by": mark,
        "version": version("fairloaf"),
        "audience": report.audience,
        "language": report.style.language,
        "trial": {
            "name": trial.name,
            "title": card.title,
            "question": card.question,
            "factors": list(trial.factors),
            "n_loaves": len(trial.counted),
            "n_void": len(trial.void),
            "formulas": plain(card.formulas),
            "sources": dict(sorted(trial.sources.items())),
        },
        "settings": {
            "measure": summary.measure,
            "confidence": summary.confidence,
            "matters": card.matters_for(summary.measure),
            "control": card.control,
        },
        "answer": summary.answer,
        "verdict": summary.verdict,
        "sections": [
            {"id": s.id, "heading": s.heading, "sentences": sentences(s)} for s in report.sections
        ],
        "comparison": _result(summary.comparison),
        "other_measures": [_result(c) for c in summary.others],
        "factors": _result(summary.factors),
        "crumb": _result(summary.crumb),
        "tasting": _result(summary.tasting),
        "words_seen": _result(summary.seen),
        "measuring_error": _result(summary.measuring),
        "unanswered": dict(summary.unanswered),
        "findings": [f.to_dict() for f in trial.findings],
        "assumptions": list(trial.assumptions),
        "loaves": plain(trial.loaves),
    }


def _result(result: Any) -> Any:
    return None if result is None else plain(result.to_dict())


def sentences(section: Section) -> list[str]:
    """Return every sentence of a section, that of each picture included."""
    said: list[str] = []
    for block in section.blocks:
        if isinstance(block, Text):
            said.append(block.words)
        elif isinstance(block, Answer):
            said += [words for words in (block.sentence, *block.others, block.meaning) if words]
        elif isinstance(block, Points):
            said += block.items
        elif isinstance(block, Shown):
            said.append(block.alt)
    return said

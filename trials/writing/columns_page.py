"""A page that explains every column that records may have: its unit, an example, what it means."""

from __future__ import annotations

from ..columns import DERIVED, KINDS, RECORDED, Column

PAGE = "columns.md"
_TABLES: tuple[tuple[str, tuple[Column, ...]], ...] = (
    ("The loaves (loaves.csv): one row a loaf", RECORDED),
    ("Worked out from them, never typed in", DERIVED),
    *((kind.title, kind.columns) for kind in KINDS.values() if kind.title),
)
_END = """\
Columns crumb_softness, crumb_open … beside the loaves hold scores; name others on the card, such as crust.
A header may be written in other words, in German, French, Spanish, Italian or Dutch, and in another unit that it
states: "Loaf weight (oz)". What is not known is named on the card under [columns]:  loaf_g = "Weight 2"
Void holds the reason why a loaf is left out, and nothing for a loaf that counts.
"""  # noqa: E501


def columns_page() -> str:
    """Return the page as text: a table for each kind of record."""
    parts = ["# The columns of a trial's records", ""]
    for heading, columns in _TABLES:
        rows = [("column", "unit", "example", "meaning"), *map(_row, columns)]
        widths = [max(len(row[i]) for row in rows) for i in range(3)]
        parts += [f"## {heading}", ""]
        for at, row in enumerate(rows):
            parts.append(
                "| " + " | ".join([*(f"{row[i]:<{widths[i]}}" for i in range(3)), row[3]]) + " |"
            )
            if at == 0:
                parts.append("|" + "|".join("-" * (width + 2) for width in widths) + "|---|")
        parts.append("")
    return "\n".join([*parts, _END])


def _row(column: Column) -> tuple[str, str, str, str]:
    return column.name, column.unit, column.example, column.meaning

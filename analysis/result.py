"""What every answer shares: it is plain data to a machine, and shows itself in a notebook. It knows
no words itself.
"""

from __future__ import annotations

from typing import Any

from .plain_data import plain

# what is known of a difference that was judged, in this order in every room's tables
ERROR = ("standard_error", "df", "ci_low", "ci_high", "p_value")
DIFFERENCE = ("difference", *ERROR)


class Result:
    """The base of a room's frozen results; `answers` puts the sentences on."""

    __slots__ = ()

    def to_dict(self) -> dict[str, Any]:
        """Return plain data under stable names, as ``--json`` prints it; a number that is missing
        becomes None.
        """
        data: dict[str, Any] = plain(self)
        return data

    def _repr_html_(self) -> str:
        from .report.notebook import shown_in_notebook

        return shown_in_notebook(self)


def without_sentences(result: Result) -> dict[str, Any]:
    """Return a result's plain data without its sentences, which stand last where there are any."""
    data: dict[str, Any] = plain(result)
    data.pop("sentences")
    return data

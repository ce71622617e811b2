"""The pictures of a report: drawn by ``figures``, placed here; None where there is nothing to draw."""

from __future__ import annotations

from ...trials.columns import label, unit
from ..figures.style import Picture
from ..wording.report import EACH_MARK_A_LOAF, ORDER_NOTE
from .document import Block, Shown
from .summary import Summary


def _shown(picture: Picture, caption: str = "") -> Shown:
    return Shown(picture.svg(), picture.alt, caption)


def main(s: Summary) -> Shown | None:
    """Every loaf by its mix, with the formulas' means; the factors' effects where no formulas were compared."""
    from ..figures.comparison import loaves_by_mix

    if s.comparison is None:
        return effects(s)
    return _shown(loaves_by_mix(s.comparison, s.trial.counted, s.style), EACH_MARK_A_LOAF)


def zones(s: Summary) -> Shown | None:
    """The difference with its likely range, against the zone of differences that do not matter."""
    from ..figures.comparison import interval_against_zones

    return None if s.comparison is None else _shown(interval_against_zones(s.comparison, s.style))


def effects(s: Summary) -> Shown | None:
    return None


def curve(s: Summary) -> Shown | None:
    return None


def scores(s: Summary) -> Shown | None:
    return None


def assessors(s: Summary) -> Shown | None:
    return None


def residuals(s: Summary) -> list[Block | None]:
    return []


def order(s: Summary) -> Shown | None:
    """The loaves in the order of baking."""
    from ..figures.order import loaves_in_order

    if s.order is None:
        return None
    card = s.trial.card
    return _shown(loaves_in_order(s.order, label(s.measure, card), unit(s.measure, card), s.style), ORDER_NOTE)

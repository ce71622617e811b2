"""The pictures of a report: drawn by ``figures``, placed here; None where there is nothing to draw."""

from __future__ import annotations

from ...trials.columns import label, unit
from ..figures.style import Picture
from ..wording.report import ORDER_NOTE
from .document import Block, Shown
from .summary import Summary


def _shown(picture: Picture, caption: str = "") -> Shown:
    return Shown(picture.svg(), picture.alt, caption)


def main(s: Summary) -> Shown | None:
    return None


def by_level(s: Summary) -> Shown | None:
    return None


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

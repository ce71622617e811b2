"""Results that show themselves at the end of a notebook's cell: the answer, a table, a picture."""

from __future__ import annotations

from collections.abc import Iterable

from ...trials.printing.document import Block, Points, Shown, Text
from ...trials.printing.html import html_blocks
from ...trials.words.numbers import ENGLISH
from ..comparison.result import Comparison
from ..crumb.result import CrumbScores
from ..factors.result import FactorEffects
from ..figures.style import Picture
from .comparison_tables import means_table, pairs_table
from .crumb_tables import attributes_table
from .factor_tables import effects_table


def comparison_html(result: Comparison) -> str:
    """Return a comparison as HTML."""
    from ..figures.comparison import interval_against_zones

    return _blocks(
        Text(result.sentence),
        means_table(result),
        pairs_table(result),
        *_shown([interval_against_zones(result, style=ENGLISH)]),
    )


def factors_html(result: FactorEffects) -> str:
    """Return the factors as HTML."""
    from ..figures.factors import effects_by_size

    drawn = [] if result.effects.empty else [effects_by_size(result, style=ENGLISH)]
    return _blocks(Points(result.sentences), effects_table(result, ENGLISH), *_shown(drawn))


def crumb_html(result: CrumbScores) -> str:
    """Return crumb scores as HTML."""
    from ..figures.crumb import attribute_profile

    return _blocks(
        Points(result.sentences),
        attributes_table(result),
        *_shown([attribute_profile(result, style=ENGLISH)]),
    )


def _shown(pictures: Iterable[Picture]) -> list[Shown]:
    return [Shown(picture.svg(), picture.alt) for picture in pictures]


def _blocks(*blocks: Block) -> str:
    return html_blocks(blocks, style=ENGLISH)


def shown_in_notebook(result: object) -> str:
    """Return a result as HTML, by its kind."""
    if isinstance(result, Comparison):
        return comparison_html(result)
    if isinstance(result, FactorEffects):
        return factors_html(result)
    if isinstance(result, CrumbScores):
        return crumb_html(result)
    return _blocks(Points(getattr(result, "sentences", ())))

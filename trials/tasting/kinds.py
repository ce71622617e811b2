"""The tests that people can be given: how many cups, how they must differ, and the orders to serve
them in.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from types import MappingProxyType

from ..frozen import frozen


@frozen(kw_only=True)
class Kind:
    """One test.

    cups : how many are served; None for as many as there are breads. pattern : how often each bread
    is served, sorted. answers : how many codes an answer holds; None for all of them, in order.
    orders : every order of the breads 0 and 1, each to be served equally often; the reference of a
    duo-trio comes first. question : what a ballot asks
    """

    name: str
    cups: int | None
    pattern: tuple[int, ...]
    answers: int | None
    orders: tuple[tuple[int, ...], ...]
    question: str
    spellings: tuple[str, ...] = ()


_KINDS = (
    Kind(
        name="triangle",
        cups=3,
        pattern=(1, 2),
        answers=1,
        spellings=("triangle test", "triangular"),
        orders=((0, 1, 1), (0, 0, 1), (0, 1, 0), (1, 0, 0), (1, 1, 0), (1, 0, 1)),
        question="Two of these three are the same bread. Which is the odd one?",
    ),
    Kind(
        name="duo-trio",
        cups=2,
        pattern=(1, 1),
        answers=1,
        spellings=("duo trio", "duotrio", "duo-trio test"),
        orders=((0, 0, 1), (0, 1, 0), (1, 0, 1), (1, 1, 0)),
        question="Taste the reference first. Which of the two is the same bread as the reference?",
    ),
    Kind(
        name="tetrad",
        cups=4,
        pattern=(2, 2),
        answers=2,
        spellings=("tetrad test",),
        orders=((0, 0, 1, 1), (0, 1, 0, 1), (0, 1, 1, 0), (1, 1, 0, 0), (1, 0, 1, 0), (1, 0, 0, 1)),
        question="These are two breads, twice each. Which two belong together? Name one pair.",
    ),
    Kind(
        name="three-choice",
        cups=3,
        pattern=(1, 2),
        answers=1,
        orders=((0, 0, 1), (0, 1, 0), (1, 0, 0)),
        question="Which of the three has the most of it?",
        spellings=("three choice", "3-afc", "3 afc", "three-alternative forced choice"),
    ),
    Kind(
        name="pair",
        cups=2,
        pattern=(1, 1),
        answers=1,
        orders=((0, 1), (1, 0)),
        question="Which of the two has more of it?",
        spellings=("paired comparison", "paired", "2-afc", "2 afc", "directional pair"),
    ),
    Kind(
        name="preference",
        cups=2,
        pattern=(1, 1),
        answers=1,
        orders=((0, 1), (1, 0)),
        question="Which of the two do you like better? You may answer: none.",
        spellings=("paired preference", "preference test"),
    ),
    Kind(
        name="ranking",
        cups=None,
        pattern=(1,),
        answers=None,
        orders=(),
        question="Put them in order, from the least to the most.",
        spellings=("rank", "ranks", "ranking test"),
    ),
)
KINDS: Mapping[str, Kind] = MappingProxyType({kind.name: kind for kind in _KINDS})
# have right answers
TELLING: tuple[str, ...] = ("triangle", "duo-trio", "tetrad", "three-choice", "pair")
# ask for something: more of what?
ASKING: tuple[str, ...] = ("three-choice", "pair", "ranking")


def kind_named(text: str) -> Kind | None:
    """Return the test that a text names, or None."""
    plain = " ".join(re.split(r"[\s_]+", str(text).strip().casefold()))
    return next((kind for kind in _KINDS if plain in (kind.name, *kind.spellings)), None)

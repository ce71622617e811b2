"""Who is served what, under which code and in which order: every order of a test equally often,
dealt by lot.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache
from typing import Any

import numpy as np
import pandas as pd

from ..findings import TrialError
from ..frozen import frozen
from ..tasting.kinds import KINDS, kind_named
from .codes import CHECK, all_codes

LOOKING = "looking"  # every bread to everybody, to tick words for
MOST_PEOPLE, MOST_BREADS = 1000, 24
DRAWS = 200  # parts of a square from which the most even one is taken


@frozen(kw_only=True)
class ServingPlan:
    """A serving plan. The same arguments give the same plan on every machine.

    Attributes
    ----------
    test : a test, or "looking"; breads : as they were given; seed : of the generator (NumPy's
        PCG64)
    table : one row a serving: assessor ("1", "2", …), repeat, reference (a code, duo-trio only;
        else ""), served
        (codes in serving order, with spaces)
    codes : code, bread (of a cup; the plate of a looking keeps one code for everybody)
    """

    test: str
    breads: tuple[str, ...]
    assessors: int
    repeats: int
    seed: int
    table: pd.DataFrame
    codes: pd.DataFrame

    @property
    def rows(self) -> list[dict[str, str]]:
        """Return the rows of ``table`` as texts."""
        return [
            {str(name): str(cell) for name, cell in row.items()}
            for row in self.table.to_dict("records")
        ]

    @property
    def key(self) -> list[tuple[str, str]]:
        """Return the rows of ``codes``: code and bread."""
        return [
            (str(code), str(bread))
            for code, bread in zip(self.codes["code"], self.codes["bread"], strict=True)
        ]

    def to_dict(self) -> dict[str, Any]:
        """Return plain data, as ``--json`` prints it."""
        return {
            "test": self.test,
            "breads": list(self.breads),
            "assessors": self.assessors,
            "repeats": self.repeats,
            "seed": self.seed,
            "table": self.table.to_dict("records"),
            "codes": self.codes.to_dict("records"),
        }


def plan_servings(
    test: str, breads: Sequence[str], assessors: int, repeats: int = 1, seed: int = 1
) -> ServingPlan:
    """Return who is served what.

    Parameters
    ----------
    test : a test, or "looking" for words to tick
    breads : two breads (for a three-choice test or a pair the one expected to have more comes
        last); two or more to
        rank or to look at, where a bread named twice gets two codes
    assessors, repeats : people, and servings each

    Raises
    ------
    TrialError: an unknown test, or numbers that make no plan.
    """
    if (
        isinstance(breads, str)
        or not isinstance(breads, Sequence)
        or not all(isinstance(bread, str) and bread.strip() for bread in breads)
    ):
        raise TrialError.one(
            "breads-number",
            f"{breads!r} is no list of breads.",
            'Name them, such as  ["house", "malted"].',
        )
    return plan_with_loaves(
        test,
        {bread: [bread] for bread in dict.fromkeys(breads)},
        assessors,
        repeats,
        seed,
        list(breads),
    )


def plan_with_loaves(
    test: str,
    loaves: Mapping[str, Sequence[str]],
    assessors: int,
    repeats: int = 1,
    seed: int = 1,
    breads: Sequence[str] | None = None,
) -> ServingPlan:
    """Return a plan whose breads are cut from several loaves each, one loaf after the other from
    row to row.

    ``codes`` then lead to loaves. All cups of a bread in one serving come from one loaf.
    """
    named = list(loaves) if breads is None else list(breads)
    name = _checked(test, named, assessors, repeats, seed)
    rng = np.random.default_rng(seed)
    n = assessors * repeats
    if name == LOOKING:
        codes = _drawn_codes(rng, len(named))
        orders = [[codes[place] for place in order] for order in _squares(len(named), n, rng)]
        key = [(code, loaves[bread][0]) for code, bread in zip(codes, named, strict=True)]
        return _plan(name, named, assessors, repeats, seed, [("", order) for order in orders], key)
    kind = KINDS[name]
    places = _dealt(kind.orders, n, rng) if kind.orders else _squares(len(named), n, rng)
    drawn = iter(_drawn_codes(rng, sum(map(len, places))))
    rows, key = [], []
    for row, order in enumerate(places):
        cups = [
            (next(drawn), loaves[named[place]][row % len(loaves[named[place]])]) for place in order
        ]
        key += cups
        served = [code for code, _ in cups]
        rows.append((served[0], served[1:]) if name == "duo-trio" else ("", served))
    return _plan(name, named, assessors, repeats, seed, rows, key)


def _plan(
    test: str,
    breads: list[str],
    assessors: int,
    repeats: int,
    seed: int,
    rows: list[tuple[str, list[str]]],
    key: list[tuple[str, str]],
) -> ServingPlan:
    people = [
        (str(who), str(repeat))
        for repeat in range(1, repeats + 1)
        for who in range(1, assessors + 1)
    ]
    table = pd.DataFrame(
        [
            (*person, reference, " ".join(served))
            for person, (reference, served) in zip(people, rows, strict=True)
        ],
        columns=["assessor", "repeat", "reference", "served"],
    )
    return ServingPlan(
        test=test,
        breads=tuple(breads),
        assessors=assessors,
        repeats=repeats,
        seed=seed,
        table=table,
        codes=pd.DataFrame(sorted(key), columns=["code", "bread"]),
    )


def _checked(test: str, breads: list[str], assessors: int, repeats: int, seed: int) -> str:
    """Return the test's name, or raise a TrialError that says what makes no plan."""
    kind = kind_named(test)
    if kind is None and str(test).strip().casefold() != LOOKING:
        raise TrialError.one(
            "test-unknown",
            f"{test!r} is no test that can be planned.",
            f"Give one of: {', '.join(KINDS)}, {LOOKING}.",
        )
    name = kind.name if kind else LOOKING
    fixed = kind is not None and kind.orders
    if (
        (fixed and len(set(breads)) != 2)
        or not 2 <= len(breads) <= MOST_BREADS
        or (kind is not None and len(set(breads)) < len(breads))
    ):
        wanted = "two different breads" if fixed else f"two to {MOST_BREADS} breads"
        raise TrialError.one(
            "breads-number",
            f"A plan of {name} takes {wanted}, not {len(breads)}.",
            "Name the breads, each once.",
        )
    whole = all(isinstance(n, int | np.integer) for n in (assessors, repeats, seed))
    if not (whole and seed >= 0):
        raise TrialError.one(
            "people-number",
            f"{assessors} people, {repeats} servings each and the seed {seed} make no plan.",
            "Give whole numbers; the seed is 0 or more.",
        )
    if not (1 <= assessors <= MOST_PEOPLE and 1 <= repeats <= 20):
        raise TrialError.one(
            "people-number",
            f"{assessors} people and {repeats} servings each make no plan.",
            f"Give 1 to {MOST_PEOPLE} people, and 1 to 20 servings each.",
        )
    return name


def _dealt(
    orders: Sequence[tuple[int, ...]], n: int, rng: np.random.Generator
) -> list[tuple[int, ...]]:
    """Return n orders, each equally often, the remainder drawn without repeating, dealt at
    random.
    """
    whole, over = divmod(n, len(orders))
    chosen = [*range(len(orders))] * whole + rng.permutation(len(orders))[:over].tolist()
    return [orders[place] for place in rng.permutation(chosen)]


def _squares(breads: int, n: int, rng: np.random.Generator) -> list[tuple[int, ...]]:
    """Return n orders of the breads from Williams squares, the breads named by lot, part of a
    square evenly chosen.
    """
    square = rng.permutation(breads)[williams_square(breads)]
    whole, over = divmod(n, len(square))
    rows = np.concatenate([np.tile(np.arange(len(square)), whole), _most_even(square, over, rng)])
    return [tuple(square[row].tolist()) for row in rng.permutation(rows)]


def williams_square(breads: int) -> np.ndarray:
    """Return Williams' orders: each bread once in each place, each bread equally often just before
    each other.

    ``breads`` rows when even, twice as many when odd. Source: Williams 1949 (Austral. J. Sci. Res.
    A 2, 149-168).
    """
    first = [0] + [(i + 1) // 2 if i % 2 else breads - i // 2 for i in range(1, breads)]
    square = (np.array(first)[None, :] + np.arange(breads)[:, None]) % breads
    return square if breads % 2 == 0 else np.vstack([square, square[:, ::-1]])


def _most_even(square: np.ndarray, rows: int, rng: np.random.Generator) -> np.ndarray:
    """Return the rows of a part of the square in which places, and then neighbours, are most
    even.
    """
    if rows == 0:
        return np.array([], dtype=int)
    draws = [np.sort(rng.permutation(len(square))[:rows]) for _ in range(DRAWS)]
    return min(draws, key=lambda chosen: _unevenness(square[chosen]))


def _unevenness(orders: np.ndarray) -> tuple[int, int]:
    """Return the sums of squares of how often each bread has each place, and each neighbour."""
    breads = orders.shape[1]
    places, neighbours = (
        np.zeros((breads, breads), dtype=int),
        np.zeros((breads, breads), dtype=int),
    )
    np.add.at(places, (orders, np.arange(breads)[None, :]), 1)
    np.add.at(neighbours, (orders[:, :-1], orders[:, 1:]), 1)
    return int((places**2).sum()), int((neighbours**2).sum())


def _drawn_codes(rng: np.random.Generator, n: int) -> list[str]:
    """Return n codes of three different digits, or of four where three are too few, in an order
    drawn by lot.
    """
    width = 3
    while len(_every_code(width)) < n:
        width += 1
    codes = _every_code(width)
    return [codes[place] for place in rng.permutation(len(codes))[:n]]


@cache
def _every_code(width: int) -> tuple[str, ...]:
    """Return all codes of so many different digits."""
    return tuple(code for remainder in range(CHECK) for code in all_codes(width, remainder))

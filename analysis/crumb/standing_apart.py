"""Who stands apart among the assessors, and how far somebody would have to.

Each assessor is tested against the others:

- points above the others by a t-test whose variance is that of the others' points, moderated by
  how far practised people lie apart (Smyth 2004, Stat. Appl. Genet. Mol. Biol. 3, article 3) and by
  how far theirs differ from attribute to attribute;
- use of the scale and scatter by an F-test of two variances, its chance averaged over how far
  people's variances differ by nature, which is told from the panel, moderated likewise.

Bonferroni over everything that is looked at, and another look among the rest once somebody is named
(the step down of Holm 1979, Scand. J. Stat. 6, 65), so that a panel in which nobody stands apart is
left in peace 19 times in 20 or more. tests/benchmarks/test_assessor_finding.py prints what comes of
it, and from where the constants are.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pandas as pd
from scipy import special

from ...trials.frozen import frozen
from .traits import AboveOthers, Ratio, mean_known, traits

FEWEST_ASSESSORS = 4
PANEL_CHANCE = 0.05  # of naming anybody in a panel where nobody stands apart
# of the chance, spent on all attributes together; the rest on single ones
OVERALL_SHARE = 0.85
# shares of it
WAYS = {"harsher": 2 / 9, "milder": 2 / 9, "narrower": 5 / 27, "wider": 5 / 27, "own way": 5 / 27}
# share of the scale's width below which points above are not worth a word (common practice)
LEAST_ABOVE = 0.1
# how surely somebody is named who stands as far apart as `Smallest` says
SURE = 0.95
APART_COLUMNS = ["assessor", "trait", "direction", "attribute", "amount", "p_panel"]


@frozen
class Nature:
    """How far practised people lie apart in all attributes alike, and how many people's worth that
    counts for.

    apart : as a standard deviation. Points above in widths of the scale, use and scatter in the
    logarithm of a ratio of standard deviations. On the published bread panel these are 0.06, 0.11
    and 0.05; the numbers were chosen by simulation, so that few are named wrongly there and among
    people who lie closer.
    """

    apart: float
    people: float


ABOVE = Nature(apart=0.025, people=4)
VARIANCE = Nature(apart=0.15, people=8)
# how far points above lie apart in one attribute besides, where no other attribute tells
SPECIAL = 0.05
TAIL = np.geomspace(1e-5, 0.5, 17)  # ends of the slices over which a chance is averaged
SLICE = np.diff(np.concatenate([[0], TAIL, 1 - TAIL[-2::-1], [1]]))


@frozen(kw_only=True)
class Smallest:
    """How far one assessor would have to stand apart, in all attributes, to be named in 19 of 20
    such panels.

    above_others : points above or below the others; narrower, wider : SD over the loaves as a
        share of the others';
    scatter : SD about the others' picture of the loaves as a share of the others'. NaN: the scale
        has no room for it.
    """

    above_others: float = np.nan
    narrower: float = np.nan
    wider: float = np.nan
    scatter: float = np.nan


@frozen
class _Look:
    """What is tested at one time: all attributes together, or each by itself."""

    columns: list[str]
    # that each assessor and column may spend on all ways together
    chance: float
    above: AboveOthers
    use: Ratio
    scatter: Ratio


def who_stands_apart(
    names: list[str], attributes: list[str], cube: np.ndarray, width: float, step: float
) -> tuple[pd.DataFrame, Smallest]:
    """Name those who stand apart; then look again among the rest, whom they may have hidden.

    cube : scores (assessors, loaves, attributes), NaN where there is none; width, step : of the
    scale, in points. Returns the rows of `APART_COLUMNS`, and how far anybody of the rest would
    have to stand apart to be named.
    """
    found: list[pd.DataFrame] = []
    rest = np.arange(len(names))
    smallest = Smallest()
    while len(rest) >= FEWEST_ASSESSORS:
        looks = _looks(attributes, cube[rest], step)
        rows = pd.DataFrame(
            [row for look in looks for row in _named(look, width)],
            columns=["place", *APART_COLUMNS[1:]],
        )
        if rows.empty:
            smallest = _smallest(looks[0], width, step)
            break
        found.append(rows.assign(assessor=[names[rest[i]] for i in rows["place"]]))
        rest = np.delete(rest, rows["place"].unique())
    table = pd.concat(found, ignore_index=True) if found else pd.DataFrame(columns=APART_COLUMNS)
    return table[APART_COLUMNS], smallest


def _looks(attributes: list[str], cube: np.ndarray, step: float) -> list[_Look]:
    m, _, k = cube.shape
    above, use, scatter = traits(cube, step)
    chance = PANEL_CHANCE / m
    together = _Look(
        ["all"],
        chance * (OVERALL_SHARE if k > 1 else 1),
        above.together(),
        use.together(),
        scatter.together(),
    )
    single = _Look(attributes, chance * (1 - OVERALL_SHARE) / k, above, use, scatter)
    return [together, single] if k > 1 else [together]


def _named(look: _Look, width: float) -> Iterator[tuple[int, str, str, str, float, float]]:
    """Rows (place, trait, direction, attribute, amount, p_panel) of those whose chance is small."""
    away, scale, df = _apart_in_points(look, width)
    worth = np.abs(away) >= LEAST_ABOVE * width
    yield from _rows(
        look, "above_others", "harsher", away, np.where(worth, special.stdtr(df, away / scale), 1)
    )
    yield from _rows(
        look, "above_others", "milder", away, np.where(worth, special.stdtr(df, -away / scale), 1)
    )
    for trait, direction, ratio, tail in (
        ("use_of_scale", "narrower", look.use, chance_below),
        ("use_of_scale", "wider", look.use, chance_above),
        ("scatter", "own way", look.scatter, chance_above),
    ):
        yield from _rows(
            look, trait, direction, np.sqrt(ratio.value), tail(ratio, *_nature_of(ratio))
        )


def _rows(
    look: _Look, trait: str, direction: str, amount: np.ndarray, chance: np.ndarray
) -> Iterator[tuple[int, str, str, str, float, float]]:
    allowed = look.chance * WAYS[direction]
    for place, column in np.argwhere(chance < allowed):
        p_panel = chance[place, column] / allowed * PANEL_CHANCE
        yield (
            int(place),
            trait,
            direction,
            look.columns[column],
            float(amount[place, column]),
            float(p_panel),
        )


def _apart_in_points(look: _Look, width: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Points above the others' mean, their standard error by nature and chance, its degrees of
    freedom: (m, c).
    """
    others, variance, n = _others(look.above.points)
    special, alone = look.above.special, (SPECIAL * width) ** 2 + look.above.noise
    natural = (ABOVE.apart * width) ** 2 + np.where(np.isnan(special), alone, special)
    df = ABOVE.people + n - 1
    scale = np.sqrt((ABOVE.people * natural + (n - 1) * variance) / df * (1 + 1 / n))
    return look.above.points - others, scale, df


def _nature_of(ratio: Ratio) -> tuple[np.ndarray, np.ndarray]:
    """How far log SDs lie apart by nature (SD of one against the mean of the others), with degrees
    of freedom.
    """
    _, variance, n = _others(np.log(ratio.value) / 2)
    df = VARIANCE.people + n - 1
    seen = np.maximum(variance - mean_known(_noise(ratio), 0), 0)
    return np.sqrt((VARIANCE.people * VARIANCE.apart**2 + (n - 1) * seen) / df * (1 + 1 / n)), df


def _noise(ratio: Ratio) -> np.ndarray:
    """Sampling variance of the logarithm of a ratio of SDs."""
    return (special.polygamma(1, ratio.df / 2) + special.polygamma(1, ratio.usual_df / 2)) / 4


def chance_below(ratio: Ratio, nature: np.ndarray, df: np.ndarray) -> np.ndarray:
    """Chance of a variance ratio as small: F-tests, averaged over the differences by nature."""
    return special.fdtr(*_drawn(ratio, nature, df)) @ SLICE


def chance_above(ratio: Ratio, nature: np.ndarray, df: np.ndarray) -> np.ndarray:
    """Chance of a variance ratio as large."""
    return special.fdtrc(*_drawn(ratio, nature, df)) @ SLICE


def _drawn(
    ratio: Ratio, nature: np.ndarray, df: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Degrees of freedom and value of a ratio without what each of many differences by nature adds
    to it.
    """
    by_nature = special.stdtrit(df[..., None], np.cumsum(SLICE) - SLICE / 2) * nature[..., None]
    return (
        ratio.df[..., None],
        ratio.usual_df[..., None],
        ratio.value[..., None] / np.exp(2 * by_nature),
    )


def _others(x: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """The others' mean, variance and number, for each assessor and column; NaN where there are too
    few.
    """
    known = np.isfinite(x)
    n = np.where(known.sum(axis=0) >= FEWEST_ASSESSORS, known.sum(axis=0) - 1.0, np.nan) + 0 * x
    centre = mean_known(x, 0)
    about = np.where(known, x - centre, 0)
    mean = (about.sum(axis=0) - about) / n
    variance = np.maximum(((about**2).sum(axis=0) - about**2) / n - mean**2, 0) * n / (n - 1)
    return centre + mean, variance, n


def _smallest(look: _Look, width: float, step: float) -> Smallest:
    """What a usual assessor of this panel would have to do; nothing for which the scale has no
    room.

    No standard deviation on a scale is more than half its width (Popoviciu 1935), none less than
    rounding leaves.
    """
    _, scale, df = (_usual(x) for x in _apart_in_points(look, width))
    named = np.fmax(
        -special.stdtrit(df, look.chance * WAYS["harsher"]) * scale, LEAST_ABOVE * width
    )
    above = float((named + special.stdtrit(df, SURE) * scale)[0])
    least, most = step / np.sqrt(12), width / 2
    usual, picture = (float(np.sqrt(_usual(ratio.usual))[0]) for ratio in (look.use, look.scatter))
    narrower = _smallest_ratio(look.use, -1, look.chance * WAYS["narrower"])
    wider = _smallest_ratio(look.use, 1, look.chance * WAYS["wider"])
    scatter = _smallest_ratio(look.scatter, 1, look.chance * WAYS["own way"])
    return Smallest(
        above_others=above if above <= most else np.nan,
        narrower=narrower if narrower * usual >= least else np.nan,
        wider=wider if wider * usual <= most else np.nan,
        scatter=scatter if scatter * picture <= most else np.nan,
    )


def _smallest_ratio(ratio: Ratio, side: int, allowed: float) -> float:
    """The ratio of SDs, below (side -1) or above (1) the others', that is named as surely as
    `SURE`.
    """
    nature, df = (_usual(x) for x in _nature_of(ratio))
    usual = Ratio(*(_usual(x) for x in (ratio.value, ratio.df, ratio.usual, ratio.usual_df)))
    grid = np.linspace(0, 8, 41)  # logarithm of a ratio of variances
    tail = chance_below if side < 0 else chance_above
    chance = tail(replace(usual, value=np.exp(side * grid)), nature, df)
    named = np.interp(-np.log(allowed), -np.log(np.maximum(chance, 1e-300)), grid, right=np.nan) / 2
    wobble = special.stdtrit(df, SURE) * np.sqrt(nature**2 + _noise(usual))
    return float(np.exp(side * (named + wobble))[0])


def _usual(values: np.ndarray) -> np.ndarray:
    """Median of what is known, as (1,); NaN where nothing is."""
    known = values[np.isfinite(values)]
    return np.array([np.median(known) if len(known) else np.nan])

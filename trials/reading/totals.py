"""Rows and columns that are a mean, a total or the like, known by their words or by their
numbers.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Collection, Iterator, Mapping
from functools import cache

import numpy as np
import pandas as pd

from ..findings import Finding
from ..words.lists import on_lines
from ..words.numbers import typed_places
from .days import LONGEST, pattern, plain, words_of

WORDS = words_of(
    "mean means average averages avg av ave mittelwert mittelwerte mittel durchschnitt schnitt"
    " moyenne moyennes moy promedio promedios media medie prom gemiddelde gemiddeld gem ø ⌀ 平均"
    " 平均値 overall sum sums total totals subtotal subtotals grandtotal summe summen gesamt"
    " gesamtsumme zwischensumme gesamtwert somme soustotal suma sumas totale totali somma totaal"
    " subtotaal som σ ∑ sd std stdev stddev stdv deviation standardabweichung stabw stdabw"
    " abweichung ecarttype desviacion desv deviazione dev standaardafwijking standaarddeviatie"
    " afwijking sem stderr min mini minimum smallest lowest least kleinste kleinster kleinstes"
    " niedrigste minimo minima max maxi maximum largest highest biggest greatest grosste grosster"
    " grosstes hochste maximo massimo hoogste range spannweite spanne etendue rango variance"
    " varianz variation cv vk median medianwert mediane mediana mediaan count counts anzahl aantal"
    " conteo conteggio effectif"
)
WITH_OTHERS = words_of(  # of a label, beside such a word
    "of the all for per by and in over standard st estandar est dev der die das des aller alle von"
    " je pro fur und wert du de le la les par et y del el los todos por di dei tutti e van het sub"
    " grand type ecart abw error coefficient rank row rows loaf loaves brote pains panes pani"
    " broden pain pane panes brot brood laib laibe hogaza hogazas pagnotta pagnotte n score scores"
    " values value each every ein einem eine un une uno una een jede jedes jeden chaque cada ogni"
    " elk complessivo complessiva general generale generaal allgemein insgesamt"
)
NOT_LABELS = ("note", "void", "counts")
NO_MEASUREMENT = (
    "line",
    "proof_min",
    "bake_order",
    "measure_order",
    "cool_min",
    "box_ml",
    "dough_temp_c",
)
RARE = 0.25  # a label of so many rows is a name, whatever it says
# chance that any row of a trial looks like that: below, an error; below, a warning
SURE, LIKELY = 1e-3, 0.02
USUAL = 0.8  # part of the loaves whose numbers are written in one way
ALL_ZEROS = str.maketrans("123456789", "000000000")  # numbers of one length are one text
MOST_LOOKED_AT = 200  # rows that end a block
SAMPLE = 50  # values that show how many decimals a column has
FEWEST = 3  # rows that a mean, a smallest or a largest value is taken of
STATISTICS: dict[str, Callable[[np.ndarray], float]] = {
    "mean": np.ndarray.mean,
    "sum": np.ndarray.sum,
    "standard deviation": lambda values: _spread(values, len(values) - 1),
    "smallest": np.ndarray.min,
    "largest": np.ndarray.max,
}
WHY = "It would count as one more loaf."


def is_summary(text: str, names: Collection[str] = ()) -> bool:
    """Return whether a label says mean, total or the like, and beside it nothing but ``names`` and
    small words.
    """
    if len(text) > LONGEST or "x\u0304" in text:  # x with a bar
        return len(text) <= LONGEST
    words = " ".join(["", *re.findall(r"[^\W\d_]+|[∑⌀]", plain(text).replace("-", "")), ""])
    for name in sorted((plain(name) for name in names if len(name) > 1), key=len, reverse=True):
        words = words.replace(f" {name} ", " ")
    left = [word for word in words.split() if word not in WITH_OTHERS]
    return bool(left) and all(word in WORDS for word in left)


def rows_of_totals(loaves: pd.DataFrame, file: str) -> list[Finding]:
    """Return an error for rows that are no loaf but a mean, a total or the like; a warning where it
    may be chance.
    """
    if loaves.empty:
        return []
    open_rows = (
        loaves["void"].isna().to_numpy() if "void" in loaves else np.ones(len(loaves), dtype=bool)
    )
    said = _by_words(loaves) & open_rows
    findings = []
    if said.any():
        lines = tuple(loaves.loc[said, "line"].astype(int))
        findings.append(
            Finding(
                code="row-of-totals",
                severity="error",
                rows=lines,
                file=file,
                column=str(loaves.columns[0]),
                message=(
                    f"There is a mean, a total or the like on {on_lines(lines)}, where a loaf"
                    " should be."
                ),
                why=WHY,
                fix="Delete the row, or write a reason under void.",
            )
        )
    for row, what, chance in _by_numbers(loaves, said | ~open_rows):
        line = int(loaves["line"].iloc[row])
        findings.append(
            Finding(
                code="row-of-totals",
                severity="error" if chance < SURE else "warning",
                rows=(line,),
                file=file,
                why=WHY,
                message=(
                    f"Line {line} holds the {what} of the loaves above it, in every column of"
                    " measurements."
                ),
                fix="Delete the row, or write a reason under void; leave it if it is a loaf.",
            )
        )
    return findings


def _spread(values: np.ndarray, free: int) -> float:
    """Return the standard deviation over so many degrees of freedom."""
    apart = values - values.mean()
    return math.sqrt(float(apart @ apart) / free)


def _labels(loaves: pd.DataFrame) -> list[str]:
    return [
        str(name)
        for name in loaves
        if name not in NOT_LABELS and loaves[name].dtype.kind not in "fiub"
    ]


def _by_words(loaves: pd.DataFrame) -> np.ndarray:
    """Return which rows have a label that says that they are no loaf (n,)."""
    found = np.zeros(len(loaves), dtype=bool)
    names = set()
    for name in ("formula", "tin", "mix", "day"):
        if name in loaves:
            counts, texts = _counted(loaves[name])
            names |= {str(text) for text in texts[counts > 1]}
    for name in _labels(loaves):
        counts, texts = _counted(loaves[name])
        rare = texts if name == "loaf" else texts[counts <= RARE * len(loaves)]
        likely = [
            text
            for text in rare
            if not re.fullmatch(r"[A-Za-z]?\d*", str(text))
            and is_summary(str(text), names - {text})
        ]
        if likely:
            found |= loaves[name].isin(likely).to_numpy()
    return found


def _counted(column: pd.Series) -> tuple[np.ndarray, pd.Index]:
    """Return how often each distinct text occurs, and the texts."""
    codes, texts = pd.factorize(column)
    return np.bincount(codes[codes >= 0], minlength=len(texts)), pd.Index(texts)


def _by_numbers(loaves: pd.DataFrame, left_out: np.ndarray) -> Iterator[tuple[int, str, float]]:
    """Yield rows that end a block and hold one statistic of the rows above: place, which, the
    chance of it.
    """
    columns = [
        name for name in loaves if loaves[name].dtype.kind == "f" and name not in NO_MEASUREMENT
    ]
    values = loaves[columns].to_numpy(dtype=float)
    values = np.where(np.isfinite(values), values, np.nan)
    blocks = _blocks(loaves)
    rows_of = [_rows_of(codes) for codes in blocks]
    usual = _usual_label(loaves)
    told = np.flatnonzero(left_out)
    likely = sorted({*_ends(blocks, len(loaves)), *(told[told > 0] - 1).tolist()})
    ends = [row for row in likely if not left_out[row]][:MOST_LOOKED_AT]
    taken = left_out.copy()
    for row in ends:
        groups = list(_groups(rows_of, taken, row))
        tried = len(ends) * len(groups) * len(STATISTICS)
        own = {place: value for place, value in enumerate(values[row].tolist()) if value == value}
        best = min(
            (
                (chance * tried, what)
                for group in groups
                for chance, what in _chances(values, group, own, usual[row])
            ),
            default=(1.0, ""),
        )
        if best[0] < LIKELY:
            taken[row] = True
            yield row, best[1], best[0]


def _blocks(loaves: pd.DataFrame) -> list[np.ndarray]:
    return [loaves[name].factorize()[0] for name in ("formula", "mix", "day") if name in loaves]


def _ends(blocks: list[np.ndarray], rows: int) -> list[int]:
    """Return the last row, and before it the rows below which a block ends (at most as many as are
    looked at).
    """
    ends = {rows - 1} if rows else set()
    for codes in blocks:
        ends |= set(np.flatnonzero(np.diff(codes) != 0)[-MOST_LOOKED_AT:].tolist())
    return sorted(ends)


def _rows_of(codes: np.ndarray) -> Callable[[int], np.ndarray]:
    """Return what gives the rows of a row's block, in order, without looking at all others."""
    order = np.argsort(codes, kind="stable")
    ends = np.cumsum(np.bincount(codes + 1))  # −1 is what is missing
    return lambda row: order[ends[codes[row]] : ends[codes[row] + 1]]


def _groups(
    rows_of: list[Callable[[int], np.ndarray]], taken: np.ndarray, row: int
) -> Iterator[np.ndarray]:
    """Yield the rows that one may sum up: all above it, those of its block, those since the last
    such row.
    """
    above = np.flatnonzero(~taken[:row])
    yield above
    for block in rows_of:
        own = block(row)
        yield own[(own < row) & ~taken[own]]
    last = np.flatnonzero(taken[:row])
    if len(last):
        yield above[above > last[-1]]


def _usual_label(loaves: pd.DataFrame) -> np.ndarray:
    """Return which rows have a loaf number that is written like most others (n,)."""
    written = loaves["loaf"].map(
        lambda text: text.translate(ALL_ZEROS) if isinstance(text, str) else ""
    )
    patterns = written.map({text: pattern(text) for text in written.unique()})
    counts = patterns.value_counts()
    is_usual = (patterns == counts.index[0]).to_numpy()
    return is_usual if is_usual.mean() > USUAL else np.ones(len(loaves), dtype=bool)


def _chances(
    values: np.ndarray, group: np.ndarray, own: Mapping[int, float], usual: bool
) -> Iterator[tuple[float, str]]:
    """Yield the chance that a row's measurements, column → value, happen to be each statistic of a
    group of rows.

    A column of the group is looked up when a statistic comes to it: most end at the first.
    """

    @cache
    def known(column: int) -> np.ndarray:
        above = values[group, column]
        return above[~np.isnan(above)]

    for what in STATISTICS:
        if len(group) >= (2 if what == "sum" else FEWEST):
            yield _chance(known, own, what, usual), what


def _chance(
    known_in: Callable[[int], np.ndarray], own: Mapping[int, float], what: str, usual: bool
) -> float:
    """Return the chance that measurements happen to be a statistic of those known; 1 where they are
    not.

    Each column counts by the resolution of its numbers beside their spread; an unusual label makes
    chance unlikely.
    """
    chance, judged = 1.0, 0
    for column, value in own.items():
        known = known_in(column)
        if len(known) < 2:
            continue
        step = 10.0 ** -typed_places(value)
        wanted = float(STATISTICS[what](known))
        if abs(value - wanted) > 0.51 * step + 1e-9 * abs(wanted):
            return 1.0
        spread = _spread(known, len(known))
        if spread > 0:
            is_one_of_them = what in ("smallest", "largest")
            coarse = 10.0 ** -max(map(typed_places, known[:SAMPLE])) if is_one_of_them else step
            chance *= min(1.0, coarse / (2.5 * spread))
            judged += 1
    far = what in ("sum", "standard deviation") and judged > 0
    return (
        min(chance, 1e-6)
        if far
        else chance * (1.0 if usual else 0.01)
        if judged > 1 or not usual
        else 1.0
    )

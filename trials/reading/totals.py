"""Rows and columns that are a mean, a total or the like, known by their words or by their
numbers.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Callable, Collection, Iterator, Sequence

import numpy as np
import pandas as pd

from ..findings import Finding
from ..tables import number_columns
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
STATISTICS = ("mean", "sum", "standard deviation", "smallest", "largest")
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


def _labels(loaves: pd.DataFrame) -> list[str]:
    return [
        str(name)
        for name, dtype in loaves.dtypes.items()
        if name not in NOT_LABELS and dtype.kind not in "fiub"
    ]


def _by_words(loaves: pd.DataFrame) -> np.ndarray:
    """Return which rows have a label that says that they are no loaf (n,)."""
    found = np.zeros(len(loaves), dtype=bool)
    labels = _labels(loaves)
    counted = {
        name: _counted(loaves[name])
        for name in {*labels, "formula", "tin", "mix", "day"}
        if name in loaves
    }
    names = {
        str(text)
        for name in counted.keys() & {"formula", "tin", "mix", "day"}
        for text, count in zip(*counted[name], strict=True)
        if count > 1
    }
    for name in labels:
        texts, counts = counted[name]
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


def _counted(column: pd.Series) -> tuple[np.ndarray, np.ndarray]:
    """Return the distinct texts, and how often each occurs."""
    codes, texts = pd.factorize(column.to_numpy())
    return texts, np.bincount(codes[codes >= 0], minlength=len(texts))


def _by_numbers(loaves: pd.DataFrame, left_out: np.ndarray) -> Iterator[tuple[int, str, float]]:
    """Yield rows that end a block and hold one statistic of the rows above: place, which, the
    chance of it.
    """
    values = [loaves[name].to_numpy() for name in measurements(loaves)]
    values = [np.where(np.isfinite(column), column, np.nan) for column in values]
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
        own = [(column, value) for column in values if (value := float(column[row])) == value]
        best = min(
            (
                (chance * tried, what)
                for group in groups
                for chance, what in _chances(group, own, usual[row])
            ),
            default=(1.0, ""),
        )
        if best[0] < LIKELY:
            taken[row] = True
            yield row, best[1], best[0]


def measurements(loaves: pd.DataFrame) -> list[str]:
    """Return the columns of what was measured on the loaves."""
    return [name for name in number_columns(loaves) if name not in NO_MEASUREMENT]


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
    written = [
        text.translate(ALL_ZEROS) if isinstance(text, str) else "" for text in loaves["loaf"]
    ]
    patterns = {text: pattern(text) for text in set(written)}
    counts = Counter(patterns[text] for text in written)
    usual, count = counts.most_common(1)[0]
    if count / len(written) <= USUAL:
        return np.ones(len(written), dtype=bool)
    return np.array([patterns[text] == usual for text in written])


def _chances(
    group: np.ndarray, own: Sequence[tuple[np.ndarray, float]], usual: bool
) -> Iterator[tuple[float, str]]:
    """Yield the chance that a row's measurements happen to be a statistic of a group of rows, for
    each that they are; ``own`` are the columns and what the row has in each.

    Each column counts by the resolution of its numbers beside their spread; an unusual label makes
    chance unlikely.
    """
    chances = {what: 1.0 for what in STATISTICS if len(group) >= (2 if what == "sum" else FEWEST)}
    judged = 0
    for column, value in own:
        known = column[group]
        known = known[~np.isnan(known)]
        if len(known) < 2:
            continue
        step = 10.0 ** -typed_places(value)
        statistics, spread = _statistics(known)
        chances = {
            what: chance
            for what, chance in chances.items()
            if abs(value - statistics[what]) <= 0.51 * step + 1e-9 * abs(statistics[what])
        }
        if not chances:
            return
        if spread > 0:
            judged += 1
            for what in chances:
                is_one_of_them = what in ("smallest", "largest")
                coarse = 10.0 ** -max(map(typed_places, known[:SAMPLE])) if is_one_of_them else step
                chances[what] *= min(1.0, coarse / (2.5 * spread))
    for what, chance in chances.items():
        if what in ("sum", "standard deviation") and judged:
            yield min(chance, 1e-6), what
        elif judged > 1 or not usual:
            yield chance * (1.0 if usual else 0.01), what


def _statistics(known: np.ndarray) -> tuple[dict[str, float], float]:
    """Return the statistics of values (two at least), and their spread."""
    n, total = len(known), float(known.sum())
    apart = known - total / n
    squares = float(apart @ apart)
    of_all = (
        total / n,
        total,
        math.sqrt(squares / (n - 1)),
        float(known.min()),
        float(known.max()),
    )
    return dict(zip(STATISTICS, of_all, strict=True)), math.sqrt(squares / n)

"""Labels that two loaves, two mixes or day and month may have exchanged: the records would agree
far better the other way round.

An exchange is told where it is so many times likelier than what was written that, of all the
exchanges that could be thought of, chance would seldom offer one: by Markov's inequality a
likelihood ratio above k comes up in at most 1/k of sound trials.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from itertools import combinations, pairwise

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..columns import label
from ..frozen import frozen
from ..reading import days
from ..trial import Trial
from ..words.lists import listed, on_lines
from .additive import (
    LEAST_SCALE,
    LEAST_WITHIN,
    MOST_LOAVES,
    PRIOR_MIXES,
    Additive,
    basis,
    indicators,
    settings_of,
    told_apart,
)
from .check import MOST_TOLD, Spot, check
from .grouping import batch_codes, codes_of, joint_codes, kinds_in
from .shifts import SINGLE, measures_of

# of sound trials in which an exchange may be told: of two loaves, of which most are found so; of
# two mixes, which are harder to find
CHANCE_LOAVES, CHANCE_MIXES = 0.001, 0.007
MOST_PAIRED = 200  # loaves of which all pairs are tried
MOST_MIXES = 40
LEAST_FREE_MIXES = 4  # fewer differences between mixes can be explained by any exchange
LEAST_DAYS = 2  # days beside the odd one
SHORT_GAP, FAR = 7, 2  # days between bakes; a far day is so many usual gaps away


@check(
    "loaves-exchanged",
    "warning",
    "Two exchanged labels hide a difference, and nothing in either row looks odd.",
    needs=["mix"],
    after=[*SINGLE, "mix-two-formulas", "mix-two-days", "rows-alike", "row-above"],
)
def loaves_that_fit_exchanged(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Would two loaves fit far better with their tins, or their formulas and mixes, exchanged?"""
    if not 0 < len(loaves) <= MOST_PAIRED:
        return
    mix = batch_codes(loaves)
    within = [name for name in settings_of(loaves, trial) if varies_inside(mix, loaves[name])]
    fit = Inside.of(loaves, mix, within)
    if fit.free < LEAST_WITHIN:
        return
    one, other = np.triu_indices(len(loaves), 1)
    tried = [(name, codes_of(loaves[name]), mix[one] == mix[other]) for name in within]
    tried += [("mix", mix, np.ones(len(one), dtype=bool))]
    for name, codes, allowed in tried:
        pairs = np.column_stack([one, other])[allowed & (codes[one] != codes[other])]
        gains, alone = fit.gains(name, pairs)
        best = told_best(gains, alone, CHANCE_LOAVES)
        if best is not None:
            rows = loaves["line"].iloc[pairs[best]]
            names = listed([str(loaf) for loaf in loaves["loaf"].iloc[pairs[best]]])
            words = "mixes and formulas" if name == "mix" else f"{label(name).lower()}s"
            yield Spot(
                message=(
                    f"Loaves {names} ({on_lines(rows)}) would fit the others far better with their"
                    f" {words} exchanged."
                ),
                column=name,
                rows=rows,
                fix="Look at the bench sheet which loaf was which; leave it if it is right.",
            )
            return


@check(
    "mixes-exchanged",
    "warning",
    "With the formulas of two mixes exchanged the difference comes out too small.",
    needs=["mix", "formula"],
    after=[*SINGLE, "mix-two-formulas", "box-unlike"],
)
def mixes_that_fit_exchanged(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Would two mixes fit far better with their formulas exchanged?"""
    mix = batch_codes(loaves)
    if not 2 < mix.max(initial=-1) + 1 <= MOST_MIXES:
        return
    of_mix = np.zeros(mix.max() + 1, dtype=int)
    of_mix[mix] = joint_codes(loaves, ["formula"])
    named = np.unique(mix[loaves["mix"].notna()]).tolist()
    pairs = [(a, b) for a, b in combinations(named, 2) if of_mix[a] != of_mix[b]]
    gains, alone = np.zeros(len(pairs)), np.zeros(len(of_mix))
    for scatter, values in whole_measures(loaves).items():
        of_pairs, of_one = mix_gains(loaves, trial, scatter, values, mix, of_mix, pairs)
        gains, alone = gains + of_pairs, alone + of_one
    best = told_best(gains, alone, CHANCE_MIXES)
    if best is not None:
        alike = [pairs[i] for i in np.flatnonzero(gains > gains[best] - np.log(2))][:MOST_TOLD]
        first = [loaves[mix == a].iloc[0] for a in range(len(of_mix))]
        said = [
            f"{first[a]['mix']} ({first[a]['formula']}) and {first[b]['mix']}"
            f" ({first[b]['formula']})"
            for a, b in alike
        ]
        rows = loaves.loc[np.isin(mix, np.unique(alike)), "line"]
        yield Spot(
            message=(
                f"Mixes {', or '.join(said)} would fit the others far better with their formulas"
                f" exchanged, {on_lines(rows)}."
            ),
            column="formula",
            rows=rows,
            fix="Look at the bench sheet which mix was which; leave it if it is right.",
        )


@check("slips-not-sought", "note", "What was not looked for may still be there.", void_too=True)
def slips_not_sought(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Is the trial small enough to look for every kind of slip?"""
    n = len(loaves)
    mixes = int(loaves["mix"].nunique()) if "mix" in loaves else 0
    left_out = [
        *(
            [f"mixes and days that lie apart (looked for in up to {MOST_LOAVES:,} loaves)"]
            * (n > MOST_LOAVES)
        ),
        *(
            [f"two loaves with their labels exchanged (in up to {MOST_PAIRED} loaves)"]
            * (n > MOST_PAIRED)
        ),
        *(
            [f"two mixes with their formulas exchanged (in up to {MOST_MIXES} mixes)"]
            * (mixes > MOST_MIXES)
        ),
    ]
    if left_out:
        yield Spot(
            message=f"In a trial of this size it was not looked for {listed(left_out, 'or')}.",
            fix="Check parts of it, such as a day each, to have them looked at too.",
        )


@check(
    "day-and-month",
    "warning",
    "A mix on a day of its own is compared with nothing that was baked beside it.",
    needs=["day"],
    after=["day-two-ways", "names-alike"],
)
def days_and_months_exchanged(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Would a bake day far from the others lie among them with day and month exchanged?"""
    texts = [str(text) for text in loaves["day"].dropna().unique()]
    for read in (dates_as(texts, 0), dates_as(texts, 1)):
        found = [(text, now) for text in read if (now := among_others(text, read)) is not None]
        if len(found) == 1:
            text, now = found[0]
            rows = loaves.loc[loaves["day"] == text, "line"]
            yield Spot(
                message=(
                    f"The day {text} on {on_lines(rows)} is far from the others; with day and month"
                    f" exchanged ({now:%Y-%m-%d}) it would lie among them."
                ),
                column="day",
                rows=rows,
                fix="Look at the bench sheet; leave it if it is right.",
            )
            return


def varies_inside(mix: NDArray, column: pd.Series) -> bool:
    """Return whether loaves of one mix differ in a setting."""
    return bool((kinds_in(mix, column) > 1).any())


def told_best(gains: NDArray, alone: NDArray, chance: float) -> int | None:
    """Return the place of the best exchange (n,), where its likelihood ratio is beyond chance and
    above that of any one loaf or mix being off alone (m,), which explains less than an exchange.
    """
    if not len(gains):
        return None
    best = int(np.argmax(gains.round(9)))
    beyond = gains[best] > max(np.log(len(gains) / chance), float(alone.max(initial=0.0)))
    return best if beyond else None


def whole_measures(loaves: pd.DataFrame) -> dict[float, NDArray]:
    """Return scatter → the values (n, k) of the measures that scatter so from mix to mix, of those
    that every loaf has.
    """
    found: dict[float, list[NDArray]] = {}
    for measure in measures_of(loaves):
        if not np.isnan(measure.values).any():
            found.setdefault(measure.scatter, []).append(measure.values)
    return {scatter: np.column_stack(values) for scatter, values in found.items()}


@frozen
class Inside:
    """All measures (n, k) fitted on the mixes and on what was set for each loaf inside them.

    made : "mix" or a setting → what it makes of each loaf (n, k); rest : the residuals (n, k);
    left : 1 less the hat matrix (n, n); free : its rank.
    """

    values: NDArray
    made: dict[str, NDArray]
    rest: NDArray
    left: NDArray
    free: int

    @classmethod
    def of(cls, loaves: pd.DataFrame, mix: NDArray, within: list[str]) -> Inside:
        """Return the fit of the measures that every loaf has."""
        parts = {"mix": indicators(mix)}
        parts |= {name: indicators(joint_codes(loaves, [name])) for name in within}
        design = np.hstack(list(parts.values()))
        values = np.hstack([np.zeros((len(loaves), 0)), *whole_measures(loaves).values()])
        effects = np.linalg.lstsq(design, values, rcond=None)[0]
        ends = np.cumsum([part.shape[1] for part in parts.values()])[:-1]
        shares = np.split(effects, ends)
        made = {name: part @ own for (name, part), own in zip(parts.items(), shares, strict=True)}
        fitted = basis(design)
        left = np.eye(len(loaves)) - fitted @ fitted.T
        return cls(values, made, left @ values, left, len(loaves) - fitted.shape[1])

    def gains(self, name: str, pairs: NDArray) -> tuple[NDArray, NDArray]:
        """Return the logarithms of the likelihood ratios of exchanging a setting, or all that
        mixes differ in, of each pair (p, 2) of loaves, and of each loaf being off alone (n,).

        It moves the two values by d and -d: by the difference that the setting makes, or by that
        of the values themselves without what was set for each loaf. With residuals r and M = 1
        less the hat matrix the sum of squares becomes RSS + 2 d (r_i - r_j) + d² (M_ii + M_jj -
        2 M_ij).
        """
        one, other = pairs.T
        own = np.diag(self.left)[:, None]
        spread = own[one] + own[other] - 2 * self.left[one, other][:, None]
        if name == "mix":
            bare = self.values - sum(made for part, made in self.made.items() if part != "mix")
            by = bare[other] - bare[one]
        else:
            by = self.made[name][one] - self.made[name][other]
        least = self.free * LEAST_SCALE**2
        squares = (self.rest**2).sum(axis=0)
        after = squares + 2 * by * (self.rest[one] - self.rest[other]) + by**2 * spread
        apart = squares - self.rest**2 / np.maximum(own, 1e-9)
        gains, alone = (
            np.log((squares + least) / (np.maximum(now, 0.0) + least)).sum(axis=1)
            for now in (after, apart)
        )
        return self.free / 2 * gains, self.free / 2 * alone


def mix_gains(
    loaves: pd.DataFrame,
    trial: Trial,
    scatter: float,
    values: NDArray,
    mix: NDArray,
    of_mix: NDArray,
    pairs: list[tuple[int, int]],
) -> tuple[NDArray, NDArray]:
    """Return the logarithms of the likelihood ratios of exchanging the formulas of each pair of
    mixes (p,), and of each mix being off alone (m,), over measures ``values`` (n, k) of one
    scatter from mix to mix.

    A mix that is off alone has a size of its own in each measure, which an exchange has not: each
    costs ½ log m (Schwarz 1978, Annals of Statistics 6: 461-464; the reference is from memory).
    """
    fit = Additive.of(loaves, trial, scatter)
    if not pairs or not told_apart(fit) or fit.free_mixes < LEAST_FREE_MIXES:
        return np.zeros(len(pairs)), np.zeros(len(of_mix))
    rest = fit.left(values)
    within = ((rest**2).sum(axis=0) - ((fit.mixes.T @ rest) ** 2).sum(axis=0)) / fit.free_loaves
    prior = PRIOR_MIXES * np.maximum(within, LEAST_SCALE**2)
    others = [name for name in settings_of(loaves, trial) if name != "formula"]
    inside = [name for name in others if varies_inside(mix, loaves[name])]
    each = indicators(mix)
    whole = np.hstack([each, *(indicators(joint_codes(loaves, [name])) for name in inside)])
    means = np.linalg.lstsq(whole, values, rcond=None)[0][: each.shape[1]]
    first = loaves.iloc[[int(np.flatnonzero(mix == code)[0]) for code in range(len(of_mix))]]
    fixed = [np.ones((len(of_mix), 1))] + [
        indicators(joint_codes(first, [name])) for name in others if name not in inside
    ]
    day = joint_codes(first, ["day"]) if "day" in first else np.arange(len(of_mix))
    together = np.diag(1 / np.bincount(mix) + scatter) + scatter * (day[:, None] == day)
    whiten = np.linalg.inv(np.linalg.cholesky(together))
    white = whiten @ means

    def squares(designs: NDArray) -> NDArray:
        """Return what each design (…, m, p) leaves of the means: (…, k)."""
        left, sizes, _ = np.linalg.svd(whiten @ designs, full_matrices=False)
        left = left * (sizes > 1e-9 * np.maximum(sizes[..., :1], 1.0))[..., None, :]
        return np.asarray(((white - left @ (np.swapaxes(left, -1, -2) @ white)) ** 2).sum(axis=-2))

    def designs(n: int, *parts: NDArray) -> NDArray:
        """Return designs (n, m, p) of what is fixed and of parts (n or 1, m, …)."""
        return np.concatenate([np.repeat(part, n // len(part), axis=0) for part in parts], axis=2)

    known, formulas = np.hstack(fixed)[None], indicators(of_mix)
    order = np.tile(np.arange(len(of_mix)), (len(pairs), 1))
    for row, (a, b) in zip(order, pairs, strict=True):
        row[[a, b]] = b, a
    was = squares(np.hstack([*fixed, formulas])) + prior
    after = squares(designs(len(pairs), known, formulas[order]))
    each_alone = np.eye(len(of_mix))[:, :, None]
    apart = squares(designs(len(of_mix), known, formulas[None], each_alone))
    weight = (PRIOR_MIXES + fit.free_mixes) / 2
    of_pairs, of_one = (np.log(was / (now + prior)).sum(axis=1) for now in (after, apart))
    return weight * of_pairs, weight * of_one - values.shape[1] / 2 * np.log(len(of_mix))


def dates_as(texts: list[str], which: int) -> dict[str, datetime.date]:
    """Return text → date, the first or the last of its readings; nothing where one is no date."""
    read = {}
    for text in texts:
        found = sorted(
            datetime.date(date.year, date.month, date.day) for date in days.dates(text) if date.year
        )
        if not found:
            return {}
        read[text] = found[0] if which == 0 else found[-1]
    return read


def among_others(text: str, read: dict[str, datetime.date]) -> datetime.date | None:
    """Return the date that a far day would be with day and month exchanged, where it then lies
    among the others; else None.
    """
    day = read[text]
    others = sorted(date for other, date in read.items() if other != text)
    if day.day > 12 or day.day == day.month or len(others) < LEAST_DAYS:
        return None
    exchanged = datetime.date(day.year, day.day, day.month)
    usual = max([(later - earlier).days for earlier, later in pairwise(others)] + [SHORT_GAP])
    far = min(abs((day - date).days) for date in others) > FAR * usual
    near = (others[0] - exchanged).days <= usual and (exchanged - others[-1]).days <= usual
    return exchanged if far and near else None

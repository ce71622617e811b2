"""Labels that two loaves or two mixes may have exchanged: the records would agree far better the
other way round.

An exchange is told where it is so many times likelier than what was written that, of all the
exchanges that could be thought of, chance would seldom offer one: by Markov's inequality a
likelihood ratio above k comes up in at most 1/k of sound trials; in invented ones of 24 to 96
loaves it does in a tenth of that. The volume alone is looked at, as it tells formulas and
tins apart: other measures hardly do, and their chance would hide what it shows.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..columns import label
from ..trial import Trial
from ..words.lists import listed, on_lines
from .additive import (
    LEAST_SCALE,
    LEAST_WITHIN,
    MOST_LOAVES,
    PRIOR_MIXES,
    SCATTER,
    Additive,
    indicators,
    settings_of,
    told_apart,
)
from .check import MOST_TOLD, Spot, check
from .grouping import batch_codes, codes_of, joint_codes, kinds_in
from .inside import Inside
from .shifts import SINGLE, measures_of

CHANCE = 0.08  # bound of sound trials in which an exchange of one kind is told
MOST_PAIRED = 200  # loaves of which all pairs are tried
MOST_MIXES = 40
LEAST_FREE_MIXES = 4  # fewer differences between mixes can be explained by any exchange


@check(
    "loaves-exchanged",
    "warning",
    "Two exchanged labels hide a difference, and nothing in either row looks odd.",
    needs=["mix"],
    after=[*SINGLE, "mix-two-formulas", "mix-two-days", "rows-alike", "row-above"],
)
def loaves_that_fit_exchanged(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Would two loaves fit far better with their tins, or their formulas and mixes, exchanged?"""
    loaves, values = with_telling_values(loaves)
    if not 0 < len(loaves) <= MOST_PAIRED:
        return
    mix = batch_codes(loaves)
    settings = settings_of(loaves, trial)
    inside = [name for name in settings if varies_inside(mix, loaves[name])]
    fit = Inside.of(loaves, settings, values, mix, inside)
    if fit.within < LEAST_WITHIN:
        return
    one, other = np.triu_indices(len(loaves), 1)
    tried = [(name, codes_of(loaves[name]), mix[one] == mix[other]) for name in inside]
    tried += [("mix", mix, np.ones(len(one), dtype=bool))]
    for name, codes, allowed in tried:
        pairs = np.column_stack([one, other])[allowed & (codes[one] != codes[other])]
        gains, alone = fit.gains(name, pairs)
        best = told_best(gains, alone)
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
    loaves, values = with_telling_values(loaves)
    mix = batch_codes(loaves)
    if not 2 < mix.max(initial=-1) + 1 <= MOST_MIXES:
        return
    of_mix = np.zeros(mix.max() + 1, dtype=int)
    of_mix[mix] = joint_codes(loaves, ["formula"])
    named = np.unique(mix[loaves["mix"].notna()]).tolist()
    pairs = [(a, b) for a, b in combinations(named, 2) if of_mix[a] != of_mix[b]]
    gains, alone = mix_gains(loaves, trial, values, mix, of_mix, pairs)
    best = told_best(gains, alone)
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


def varies_inside(mix: NDArray, column: pd.Series) -> bool:
    """Return whether loaves of one mix differ in a setting."""
    return bool((kinds_in(mix, column) > 1).any())


def told_best(gains: NDArray, alone: NDArray) -> int | None:
    """Return the place of the best exchange (n,), where its likelihood ratio is beyond chance and
    above that of any one loaf or mix being off alone (m,), which explains less than an exchange.
    """
    if not len(gains):
        return None
    best = int(np.argmax(gains.round(9)))
    beyond = gains[best] > max(np.log(len(gains) / CHANCE), float(alone.max(initial=0.0)))
    return best if beyond else None


def with_telling_values(loaves: pd.DataFrame) -> tuple[pd.DataFrame, NDArray]:
    """Return the loaves whose volume is known, and its logarithms (n,); where none is, those whose
    baked mass is, and what it lost in the oven.
    """
    looks = {measure.look: measure.values for measure in measures_of(loaves)}
    values = looks.get("volume", looks.get("mass", np.full(len(loaves), np.nan)))
    known = ~np.isnan(values)
    return (loaves, values) if known.all() else (loaves[known], values[known])


def mix_gains(
    loaves: pd.DataFrame,
    trial: Trial,
    values: NDArray,
    mix: NDArray,
    of_mix: NDArray,
    pairs: list[tuple[int, int]],
) -> tuple[NDArray, NDArray]:
    """Return the logarithms of the likelihood ratios of exchanging the formulas of each pair of
    mixes (p,), and of each mix being off alone (m,).

    A mix that is off alone has a size of its own, which an exchange has not: it costs ½ log m
    (Schwarz 1978, Annals of Statistics 6: 461-464; the reference is from memory).
    """
    settings = settings_of(loaves, trial)
    fit = Additive.of(loaves, settings)
    if not pairs or not told_apart(fit) or fit.free_mixes < LEAST_FREE_MIXES:
        return np.zeros(len(pairs)), np.zeros(len(of_mix))
    rest = fit.left(values[:, None])[:, 0]
    within = float((rest**2).sum() - ((fit.mixes.T @ rest) ** 2).sum()) / fit.free_loaves
    prior = PRIOR_MIXES * max(within, LEAST_SCALE**2)
    others = [name for name in settings if name != "formula"]
    inside = [name for name in others if varies_inside(mix, loaves[name])]
    each = indicators(mix)
    whole = np.hstack([each, *(indicators(joint_codes(loaves, [name])) for name in inside)])
    means = np.linalg.lstsq(whole, values, rcond=None)[0][: each.shape[1]]
    first = loaves.iloc[[int(np.flatnonzero(mix == code)[0]) for code in range(len(of_mix))]]
    fixed = [np.ones((len(of_mix), 1))] + [
        indicators(joint_codes(first, [name])) for name in others if name not in inside
    ]
    day = joint_codes(first, ["day"]) if "day" in first else np.arange(len(of_mix))
    together = np.diag(1 / np.bincount(mix) + SCATTER) + SCATTER * (day[:, None] == day)
    whiten = np.linalg.inv(np.linalg.cholesky(together))
    white = whiten @ means

    def squares(designs: NDArray) -> NDArray:
        """Return what each design (…, m, p) leaves of the means (…,)."""
        left, sizes, _ = np.linalg.svd(whiten @ designs, full_matrices=False)
        left = left * (sizes > 1e-9 * np.maximum(sizes[..., :1], 1.0))[..., None, :]
        fitted = left @ (np.swapaxes(left, -1, -2) @ white[:, None])
        return np.asarray(((white - fitted[..., 0]) ** 2).sum(axis=-1))

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
    of_pairs, of_one = (weight * np.log(was / (now + prior)) for now in (after, apart))
    return of_pairs, of_one - np.log(len(of_mix)) / 2

"""The people who scored: did they use the scale, on their own, on every formula, in a fair order,
and blind?
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..columns import CRUMB_PREFIX
from ..tables import distinct
from ..trial import Trial
from ..words.lists import listed
from .chance import chi_square_tail
from .check import MOST_TOLD, Spot, check, plain
from .copies import CHANCE
from .grouping import combined, joint_codes, kinds_in, ranks
from .names import fold

MOST_COLUMNS = 500  # people or attributes of which every pair is compared
LEAST_SCORES = 5  # scores from which it is odd that all are the same
ONE_SCORE_BY_CHANCE = 0.05
ORDER_BY_CHANCE = 0.001


@check(
    "assessor-one-score",
    "warning",
    "A score that never changes tells nothing of the loaves.",
    needs=["assessor", "attribute", "score"],
    table="scores",
)
def assessors_with_one_score(scores: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Did everybody use more than one step of the scale?"""
    known = scores[scores["score"].notna()]
    if (kinds_in(joint_codes(known, ["attribute", "assessor"]), known["score"]) > 1).all():
        return
    own = known.groupby(["attribute", "assessor"], sort=False)["score"].agg(
        ["nunique", "size", "first"]
    )
    own = own[own["nunique"] == 1]
    of_step = known.groupby(["attribute", "score"]).size()
    people = known.groupby("attribute")["assessor"].nunique()
    given = known.groupby("attribute").size()
    for (attribute, assessor), n, step in own[["size", "first"]].itertuples():
        often = (of_step[attribute, step] - n + 1) / (given[attribute] - n + 2)
        if n >= LEAST_SCORES and people[attribute] * often ** (n - 1) < ONE_SCORE_BY_CHANCE:
            rows = known.loc[
                (known["attribute"] == attribute) & (known["assessor"] == assessor), "line"
            ]
            yield Spot(
                message=f"{assessor} gave {attribute} the score {plain(step)} in all {n} scores.",
                column="score",
                rows=rows,
                fix=(
                    "Ask whether the scale or the light was the reason; look at the answer"
                    " without it."
                ),
            )


@check(
    "scores-copied",
    "warning",
    "Scores that agree in every loaf were hardly given independently.",
    needs=["loaf", "assessor", "attribute", "score"],
    table="scores",
)
def scores_copied(scores: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Did everybody score on their own, and every attribute by itself?"""
    coded = {
        name: pd.factorize(scores[name].to_numpy(), sort=True) for name in ("attribute", "assessor")
    }
    loaf = joint_codes(scores, ["loaf", *repeat(scores)])
    cells = combined([loaf, *(codes + 1 for codes, _ in coded.values())])
    if cells.max(initial=-1) + 1 < len(cells):
        return
    values = scores["score"].to_numpy(dtype=float)
    for fixed, varied in (("attribute", "assessor"), ("assessor", "attribute")):
        (which, kinds), (who, names) = coded[fixed], coded[varied]
        if len(names) < 2:
            continue
        for kind, name in enumerate(kinds):
            own = (which == kind) & (who >= 0)
            table = np.full((loaf.max() + 1, len(names)), np.nan)
            table[loaf[own], who[own]] = values[own]
            for one, other in copied_pairs(table, list(names), len(kinds)):
                rows = scores.loc[
                    (scores[fixed] == name) & scores[varied].isin([one, other]), "line"
                ]
                yield Spot(
                    message=f"{one} and {other} have the same scores throughout ({name}).",
                    column="score",
                    rows=rows,
                    fix="Look at the score sheets; enter them again if one was copied.",
                )


@check(
    "assessor-one-formula",
    "warning",
    "Their way of scoring cannot be told from the formula.",
    needs=["loaf", "assessor"],
    table="scores",
    after=["score-names-alike", "score-of-no-loaf"],
)
def assessors_of_one_formula(scores: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Did everybody score more than one formula?"""
    made = with_formula(scores, trial)
    several = kinds_in(joint_codes(made, ["assessor"]), made["formula"]) > 1
    if several.all() or made["formula"].nunique() < 2:
        return
    kinds = made.groupby("assessor", sort=False)["formula"].agg(["nunique", "first"])
    told = kinds[kinds["nunique"] == 1]
    if len(told):
        words = [f"{assessor} only {formula}" for assessor, formula in told["first"].items()]
        names = listed(words[:MOST_TOLD], more=len(words[MOST_TOLD:]))
        yield Spot(
            message=f"Not everybody scored more than one formula: {names}.",
            column="assessor",
            rows=scores.loc[scores["assessor"].isin(told.index), "line"],
            fix=(
                "Let everybody score every formula; until then see the answer without these scores."
            ),
        )


@check(
    "order-follows-formula",
    "warning",
    "What is served first or last is scored otherwise, whatever it is.",
    needs=["loaf", "assessor", "order"],
    table="scores",
)
def order_follows_formula(scores: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Is the order of scoring free of the formula?"""
    looks = with_formula(scores, trial)
    looks = looks[looks["order"].notna()]
    codes = joint_codes(looks, ["assessor", "loaf", "order"])
    looks = looks.iloc[np.unique(codes, return_index=True)[1]]
    if looks["formula"].nunique() > 1 and order_chance(looks) < ORDER_BY_CHANCE:
        mean = (
            looks.assign(rank=looks.groupby("assessor")["order"].rank())
            .groupby("formula")["rank"]
            .mean()
        )
        told = [f"{name} {value:.1f}" for name, value in mean.sort_values().items()]
        yield Spot(
            message=f"The order of scoring follows the formula; mean place: {listed(told)}.",
            column="order",
            rows=looks["line"],
            fix="Serve in an order that changes from person to person next time.",
        )


@check("not-blind", "warning", "Who knows which loaf is which scores what they expect.")
def scored_knowing_the_formula(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Did nobody score a loaf whose formula they knew?"""
    scale = trial.card.scores
    scored = trial.scores is not None or any(str(name).startswith(CRUMB_PREFIX) for name in loaves)
    if not scored or (scale and scale.blind):
        return
    fix = (
        "Give loaves codes by lot before they are scored next time, and say in the answer that"
        " these had none."
    )
    if scale and scale.blind is False:
        yield Spot(
            message=(
                "The card says that the loaves had no blind codes: who scored knew the formula."
            ),
            fix=fix,
        )
    elif both := bakers_who_scored(loaves, trial):
        yield Spot(
            message=(
                f"{listed(both)} baked and scored, and the card does not say that the loaves were"
                " coded."
            ),
            column="baker",
            fix=f"Write  blind = true  under [scores] on the card if they were. {fix}",
        )


def copied_pairs(values: NDArray, names: list[str], tables: int) -> list[tuple[str, str]]:
    """Return the pairs of columns (n, k) that agree in every row, where chance would seldom make
    any pair of them do so.

    The chance of one agreement is the share of agreements between all other pairs, or what the
    columns' own values would give, whichever is larger; ``tables`` is how many such tables there
    are.
    """
    if len(names) > MOST_COLUMNS:
        return []
    steps = np.unique(values[~np.isnan(values)])
    here = (~np.isnan(values)).astype(float)
    known = here.T @ here
    given = ((values == step).astype(float) for step in steps)
    agree = sum((own.T @ own for own in given), np.zeros_like(known))
    i, j = np.triu_indices(len(names), 1)
    same = (known[i, j] >= LEAST_SCORES) & (agree[i, j] == known[i, j])
    if not same.any():
        return []
    same &= np.array([len(np.unique(column[~np.isnan(column)])) for column in values.T])[i] > 1
    found = []
    for one, other in zip(i[same], j[same], strict=True):
        n, own = known[one, other], values[:, one][~np.isnan(values[:, one])]
        usual = (agree[i, j].sum() - n) / max(known[i, j].sum() - n, 1)
        chance = max(
            usual, float((np.unique(own, return_counts=True)[1] ** 2).sum()) / len(own) ** 2
        )
        if tables * len(i) * chance**n < CHANCE:
            found.append((names[one], names[other]))
    return found


def bakers_who_scored(loaves: pd.DataFrame, trial: Trial) -> list[str]:
    """Return who scored and is named as a baker, too."""
    if trial.scores is None or "assessor" not in trial.scores or "baker" not in loaves:
        return []
    bakers = {fold(name) for name in distinct(loaves["baker"])}
    return [str(name) for name in distinct(trial.scores["assessor"]) if fold(name) in bakers]


def repeat(scores: pd.DataFrame) -> list[str]:
    """Return the column of repeats where there is one."""
    return ["repeat"] if "repeat" in scores else []


def with_formula(scores: pd.DataFrame, trial: Trial) -> pd.DataFrame:
    """Return the scores whose loaf is known, with its formula."""
    if not {"loaf", "formula"} <= set(trial.loaves.columns):
        return scores.assign(formula=np.nan)[:0]
    loaf, formula = (trial.loaves[name].to_numpy()[::-1] for name in ("loaf", "formula"))
    of_loaf = dict(zip(loaf, formula, strict=True))  # of two with one number the first
    made = np.array([of_loaf.get(loaf, np.nan) for loaf in scores["loaf"].to_numpy()], object)
    scores, known = scores.assign(formula=made), ~pd.isna(made)
    return scores if known.all() else scores[known]


def order_chance(looks: pd.DataFrame) -> float:
    """Return the chance of mean places so far apart, if everybody scored in a random order.

    Ranks within assessors, variances added over assessors: the statistic of Kruskal and Wallis
    1952, stratified (van Elteren 1960), with χ² for its distribution.
    """
    looks = looks[looks["assessor"].notna()]
    who, people = pd.factorize(looks["assessor"].astype(object), sort=True)
    what, formulas = pd.factorize(looks["formula"].astype(object), sort=True)
    order = np.unique(looks["order"], return_inverse=True)[1]
    before = np.cumsum(np.bincount(who)) - np.bincount(who)
    rank = ranks(who * len(looks) + order) - before[who]
    shape, cell = (len(people), len(formulas)), who * len(formulas) + what
    counts, sums = (
        np.bincount(cell, weights, minlength=len(people) * len(formulas)).reshape(shape)
        for weights in (np.ones(len(looks)), rank)
    )
    n = counts.sum(axis=1)
    middle = (n + 1) / 2  # of ranks, ties or not
    variance = np.bincount(who, (rank - middle[who]) ** 2) / np.maximum(n - 1, 1)
    excess = (sums - counts * middle[:, None]).sum(axis=0)
    weighted = counts * variance[:, None]
    covariance = np.diag(weighted.sum(axis=0)) - (weighted / n[:, None]).T @ counts
    if not covariance.any():
        return 1.0
    statistic = excess[1:] @ np.linalg.pinv(covariance[1:, 1:]) @ excess[1:]
    return float(chi_square_tail(len(excess) - 1, statistic))

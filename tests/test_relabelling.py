"""The second opinion of fitted trials against counting every way to deal two formulas out, bakers
as blocks too.
"""

from itertools import combinations, product

import numpy as np
import pandas as pd
import pytest
from fairloaf.analysis.comparison.formula_fit import fit_formulas
from fairloaf.analysis.comparison.relabelling import second_opinion

from .random_trials import random_trial, renamed, reordered
from .seeds import seeds


def fitted(loaves: pd.DataFrame):
    return fit_formulas(
        loaves, "specific_volume", ["formula"], numbers={}, order=2, confidence=0.95
    )


def opinion(loaves: pd.DataFrame, formula: str = "malted", against: str = "house"):
    fit = fitted(loaves)
    return second_opinion(fit, formula, against, fit.difference(formula, against))


def bake(rng: np.random.Generator, blocks: list[tuple[str, str]]) -> pd.DataFrame:
    """Mixes of house and malted by lot, in days and by bakers; two loaves of each."""
    rows = [
        (day, baker, str(rng.choice(["house", "malted"])), f"M{i:02d}")
        for i, (day, baker) in enumerate(blocks)
    ]
    table = pd.DataFrame(rows, columns=["day", "baker", "formula", "mix"])
    table = table.loc[table.index.repeat(2)].reset_index(drop=True)
    push = rng.normal(size=len(blocks))[pd.factorize(table["mix"])[0]]
    return table.assign(specific_volume=4 + 0.1 * push + 0.1 * rng.normal(size=len(table)))


def counted(loaves: pd.DataFrame) -> float | None:
    """Share of the ways to deal the formulas out inside each day and baker that are as extreme;
    None for one way.
    """
    mixes = loaves.groupby("mix").agg(
        day=("day", "first"),
        baker=("baker", "first"),
        formula=("formula", "first"),
        y=("specific_volume", "mean"),
    )
    cells = [cell for _, cell in mixes.groupby(["day", "baker"])]
    choices = []
    for cell in cells:
        centred = (cell["y"] - cell["y"].mean()).to_numpy()
        k = int((cell["formula"] == "malted").sum())
        choices.append([sum(centred[list(some)]) for some in combinations(range(len(cell)), k)])
    sums = np.array([sum(parts) for parts in product(*choices)])
    observed = sum(
        float((cell["y"] - cell["y"].mean())[cell["formula"] == "malted"].sum()) for cell in cells
    )
    share = float((np.abs(sums) >= abs(observed) - 1e-9).mean())
    return share if len(sums) > 2 or len(np.unique(np.round(np.abs(sums), 9))) > 1 else None


@pytest.mark.parametrize("seed", seeds(range(25), 10))
def test_labels_stay_with_their_day_and_their_baker(seed):
    rng = np.random.default_rng(seed)
    blocks = [(f"day {d}", f"baker {rng.integers(2)}") for d in range(2) for _ in range(6)]
    loaves = bake(rng, blocks)
    mixes = loaves.drop_duplicates("mix")
    both = mixes.groupby(["day", "baker"])["formula"].nunique() > 1
    if (
        mixes["formula"].value_counts().min() < 2
        or not both.any()
        or fitted(loaves).fit.compared_within(fitted(loaves).row("malted", "house"))
        != ("day", "baker")
    ):
        pytest.skip("the model does not compare within both here")
    found, expected = opinion(loaves), counted(loaves)
    if found is None:
        assert expected is None or expected == 1
    else:
        assert found.p_value == pytest.approx(expected, abs=1e-12)


def test_where_no_labels_can_change_places_there_is_no_second_opinion():
    """On every day one baker made house and the other malted: each mix is alone with its day and
    baker.
    """
    rows = [
        (f"day {d}", f"baker {(d + f) % 2}", formula, f"{d}{formula}")
        for d in range(4)
        for f, formula in enumerate(("house", "malted"))
        for _ in range(2)
    ]
    loaves = pd.DataFrame(rows, columns=["day", "baker", "formula", "mix"])
    loaves = loaves.assign(
        specific_volume=4 + 0.1 * np.random.default_rng(1).normal(size=len(loaves))
    )
    assert fitted(loaves).fit.compared_within(fitted(loaves).row("malted", "house")) == (
        "baker",
        "day",
    )
    assert opinion(loaves) is None


def test_a_draw_by_lot_is_the_same_whatever_the_order_the_names_and_the_direction():
    rng = np.random.default_rng(5)
    loaves = bake(rng, [("Mon", "R")] * 24).drop(columns=["day", "baker"])
    first = opinion(loaves)
    assert not first.exact
    mixed = opinion(loaves.sample(frac=1, random_state=3).reset_index(drop=True))
    named = opinion(loaves.assign(mix=loaves["mix"].map(lambda name: f"Z{90 - int(name[1:])}")))
    turned = opinion(loaves, "house", "malted")
    assert first.p_value == mixed.p_value == named.p_value == turned.p_value


@pytest.mark.parametrize("seed", seeds(range(200, 230), 12))
def test_names_change_no_difference(seed):
    """Formulas, mixes, days, bakers, loads and tins under other names: the same numbers, the sign
    aside.
    """
    trial = random_trial(seed)
    other, names = renamed(reordered(trial, seed), seed)
    one, two = fitted(trial.loaves), fitted(other.loaves)
    formulas = sorted(names)
    for formula in formulas[1:]:
        a, b = (
            one.difference(formula, formulas[0]),
            two.difference(names[formula], names[formulas[0]]),
        )
        assert (b.way, b.why, b.unit, b.n_units, b.between, b.ignored) == (
            a.way,
            a.why,
            a.unit,
            a.n_units,
            a.between,
            a.ignored,
        )
        assert [b.estimate, b.ci_low, b.ci_high, b.df] == pytest.approx(
            [a.estimate, a.ci_low, a.ci_high, a.df], rel=1e-4, abs=1e-6, nan_ok=True
        )

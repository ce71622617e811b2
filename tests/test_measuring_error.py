"""What the measuring leaves unsure: repeatability, propagation, and its comparison with a
difference.
"""

import math

import pandas as pd
import pytest
from fairloaf.analysis.comparison.measuring_error import (
    measuring_error,
    repeatability,
    rounding_step,
)
from fairloaf.trials import Trial, TrialCard

# Three loaves read three times. Computed by hand from the definition (GUM 4.2.4) and checked by
# simulation: pooled sd 11.0201835032 mL with 6 df, uncertainty of a mean of three 6.3625059121 mL.
READINGS = [[1680, 1695, 1672], [1740, 1731, 1752], [1655, 1661, 1640]]
POOLED_SD, POOLED_DF, U_OF_MEAN_OF_3 = 11.0201835032, 6, 6.3625059121


def readings_table(rows=READINGS):
    return pd.DataFrame(
        [(str(i), v) for i, row in enumerate(rows) for v in row], columns=["loaf", "loaf_ml"]
    )


def trial_of(readings, mass=400.0):
    loaves = pd.DataFrame(
        {"loaf": ["0", "1", "2"], "loaf_ml": [sum(r) / len(r) for r in READINGS], "loaf_g": mass}
    )
    loaves["specific_volume"] = loaves.loaf_ml / loaves.loaf_g
    return Trial(name="t", card=TrialCard(), loaves=loaves, readings=readings)


def test_pooled_spread_of_repeated_readings():
    found = repeatability(readings_table())
    assert (found.df, found.n_loaves, found.n_readings) == (POOLED_DF, 3, 9)
    assert found.sd == pytest.approx(POOLED_SD, rel=1e-10)


def test_loaves_read_once_say_nothing_of_repeatability():
    assert repeatability(readings_table([[1680], [1740]])) is None
    with_one_more = repeatability(readings_table([*READINGS, [1600]]))
    assert with_one_more.sd == pytest.approx(POOLED_SD, rel=1e-10)


def test_volume_is_as_unsure_as_the_mean_of_its_readings():
    found = measuring_error(trial_of(readings_table()), "loaf_ml")
    assert found.standard_uncertainty == pytest.approx(U_OF_MEAN_OF_3, rel=1e-10)
    assert found.readings_per_loaf == 3


def test_specific_volume_carries_volume_and_mass_in_quadrature():
    # GUM 5.1.6, by hand: u(V)/V = 6.3625059121 / 1691.777…, u(m)/m = (1 / √12) / 400.
    trial = trial_of(readings_table())
    volume, value = trial.loaves.loaf_ml.mean(), trial.loaves.specific_volume.mean()
    by_hand = value * math.hypot(U_OF_MEAN_OF_3 / volume, 1 / math.sqrt(12) / 400)
    assert measuring_error(trial, "specific_volume").standard_uncertainty == pytest.approx(
        by_hand, rel=1e-10
    )


def test_a_difference_is_held_against_the_repeatability_limit():
    # ISO 5725-6:1994, 4.1.4: the limit is 2.8 (more exactly 2.772) standard deviations.
    found = measuring_error(trial_of(readings_table()), "loaf_ml")
    assert found.limit / found.standard_uncertainty == pytest.approx(2.772, abs=5e-4)
    assert found.exceeds(-0.99 * found.limit)
    assert not found.exceeds(1.01 * found.limit)


@pytest.mark.parametrize("measure", ["bake_loss_pct", "not_there"])
def test_measures_without_volume_have_no_answer(measure):
    assert measuring_error(trial_of(readings_table()), measure) is None


def test_no_readings_no_answer():
    assert measuring_error(trial_of(None), "specific_volume") is None


@pytest.mark.parametrize(
    ("values", "step"),
    [([400, 401], 1.0), ([400.5, 401], 0.1), ([400.25, 1], 0.01), ([400.1255], 0.001)],
)
def test_step_that_masses_were_rounded_to(values, step):
    assert rounding_step(pd.Series(values, dtype=float)) == step


def test_the_same_loaf_in_litres_would_be_as_unsure():
    """The relative uncertainty does not depend on the unit of volume."""
    ml = measuring_error(trial_of(readings_table()), "loaf_ml")
    trial = trial_of(readings_table().assign(loaf_ml=lambda t: t.loaf_ml / 1000))
    scaled = Trial(
        name="t",
        card=TrialCard(),
        readings=trial.readings,
        loaves=trial.loaves.assign(loaf_ml=trial.loaves.loaf_ml / 1000),
    )
    assert measuring_error(scaled, "loaf_ml").standard_uncertainty * 1000 == pytest.approx(
        ml.standard_uncertainty
    )

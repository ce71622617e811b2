"""The measures of a loaf, against hand calculation and published rules."""

import math

import numpy as np
import pandas as pd
import pytest
from fairloaf.trials.measuring import measures
from hypothesis import given
from hypothesis import strategies as st

POSITIVE = st.floats(1, 5000)


def test_specific_volume_is_volume_over_mass():
    # AACC Approved Method 10-05.01: (seed of the empty container − seed around the loaf) / mass.
    volume = measures.volume_by_displacement(3500.0, 1890.0)
    assert volume == 1610
    # By hand: 1680 / 402.
    assert measures.specific_volume(1680.0, 402.0) == pytest.approx(4.17910447761, rel=1e-11)


def test_bake_loss_is_a_share_of_the_dough():
    # By hand: 5800 / 460.
    assert measures.bake_loss_pct(460.0, 402.0) == pytest.approx(12.6086956522, rel=1e-11)


def test_volume_per_flour():
    # By hand: 450 g dough of 100 flour in 163.3 parts hold 275.566 g flour; 1,610 mL / 2.75566.
    assert measures.volume_per_100g_flour(1610.0, 450.0, 100 / 163.3) == pytest.approx(
        584.251111, rel=1e-8
    )


def test_air_fraction():
    assert measures.air_fraction(1680.0, 402.0) == pytest.approx(1 - 402 / 1680 / 1.27, rel=1e-14)
    assert measures.air_fraction(400.0, 400.0 * 1.27) == pytest.approx(0, abs=1e-15)


def test_the_crumbs_density_lies_where_its_components_put_it():
    # Choi and Okos 1986, densities at 25 °C (formulas from memory), mixed by volume for a loaf with
    # 38 % water.
    densities = {
        "water": 0.995703,
        "carbohydrate": 1.59151,
        "protein": 1.31704,
        "fat": 0.91516,
        "ash": 2.4168,
    }
    shares = {"water": 0.38, "carbohydrate": 0.495, "protein": 0.085, "fat": 0.025, "ash": 0.015}
    mixed = 1 / sum(shares[part] / densities[part] for part in shares)
    assert pytest.approx(mixed, abs=0.02) == measures.CRUMB_DENSITY_G_ML


def test_relative_uncertainty():
    # GUM (JCGM 100:2008), 5.1.6, by hand: 1,680 ± 12 mL and 402 ± 0.5 g give 4.179 ± 0.0303 mL/g.
    relative = measures.relative_uncertainty(12 / 1680, 0.5 / 402)
    assert relative == pytest.approx(0.00725033789381, rel=1e-11)
    assert 1680 / 402 * relative == pytest.approx(0.0302999195562, rel=1e-11)
    # Eurachem/CITAC QUAM, example A1 (inputs from memory): 0.9 mg/L on 1,002.7 mg/L.
    relative = measures.relative_uncertainty(0.05 / 100.28, 0.000058 / 0.9999, 0.07 / 100)
    assert relative * 1002.69972 == pytest.approx(0.863702590151, rel=1e-9)


@given(POSITIVE, POSITIVE, st.floats(0.01, 100))
def test_a_common_factor_leaves_specific_volume_as_it_is(volume, mass, factor):
    assert measures.specific_volume(volume * factor, mass * factor) == pytest.approx(
        measures.specific_volume(volume, mass), rel=1e-12
    )


@given(POSITIVE, POSITIVE)
def test_a_loaf_that_loses_nothing_has_no_bake_loss_and_one_that_gains_a_negative_one(dough, more):
    assert measures.bake_loss_pct(dough, dough) == 0
    assert measures.bake_loss_pct(dough, dough + more) < 0


def test_a_missing_input_gives_a_missing_measure():
    mass = pd.Series([400.0, math.nan])
    values = measures.specific_volume(pd.Series([1600.0, 1600.0]), mass)
    np.testing.assert_array_equal(values, [4.0, math.nan])

"""A difference at one level of a factor that was varied inside the mixes."""

import numpy as np
import pandas as pd
import pytest
from fairloaf.analysis.model.at_level import contrast_at_level, df_of_t, weighted_t
from fairloaf.analysis.model.design import Term
from fairloaf.analysis.model.trial_fit import fit_trial
from scipy.special import stdtrit


def fitted(applied="loaf"):
    """Two formulas, three mixes each, two tins (in every mix, or one a mix); invented."""
    rng = np.random.default_rng(5)
    rows = [
        (
            f"{formula}{mix}",
            formula,
            ("open", "long")[(loaf if applied == "loaf" else mix) % 2],
            4 + bump + rng.normal(0, 0.1),
        )
        for formula in ("house", "malted")
        for mix in range(4)
        for bump in [rng.normal(0, 0.1)]
        for loaf in range(4)
    ]
    table = pd.DataFrame(rows, columns=["mix", "formula", "tin", "y"])
    fit = fit_trial(table, "y", [Term(("formula",)), Term(("tin",)), Term(("formula", "tin"))])
    at = fit.design.at
    return (
        fit,
        at({"formula": "malted", "tin": "open"}) - at({"formula": "house", "tin": "open"}),
        (at({"formula": "malted"}) - at({"formula": "house"})),
    )


def test_t_is_the_parts_own_weighted_by_their_variances():
    """Cochran and Cox's rule by hand: (v₁t₁ + v₂t₂) / (v₁ + v₂), estimate and standard error
    kept.
    """
    fit, here, whole = fitted()
    found, plain = contrast_at_level(fit, here, whole), fit.contrast(here)
    parts = [fit.contrast(whole), fit.contrast(here - whole)]
    v = np.array([part.standard_error**2 for part in parts])
    t = np.array([stdtrit(part.df, 0.975) for part in parts])
    assert (found.estimate, found.standard_error) == (plain.estimate, plain.standard_error)
    assert found.ci_high - found.estimate == pytest.approx(
        (v @ t) / v.sum() * plain.standard_error, rel=1e-9
    )
    assert parts[0].df < found.df < parts[1].df
    assert (found.p_value < 0.05) == (found.ci_low > 0 or found.ci_high < 0)


def test_where_the_tin_went_with_the_mix_one_unit_judges_all():
    fit, here, whole = fitted("mix")
    assert contrast_at_level(fit, here, whole) == fit.contrast(here)


@pytest.mark.parametrize("df", [2.0, 3.7, 12.0, 80.0])
def test_degrees_of_freedom_are_found_back_from_t(df):
    assert df_of_t(float(stdtrit(df, 0.975)), 0.95, (2.0, 80.0)) == pytest.approx(df, rel=1e-6)


def test_equal_parts_weigh_alike():
    assert weighted_t([1.0, 1.0], [2.0, 30.0], 0.95) == pytest.approx(
        (4.30265 + 2.04227) / 2, abs=1e-4
    )

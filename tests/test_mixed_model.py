"""The mixed-model engine against published and independently computed values.

Sources, versions of R and how every number was obtained: tests/reference/README.md and the entries
of expected.json. R's optimiser stops at about 1e-7, so 1e-5 is asked of agreement with it; 1e-9
with classical strata.
"""

import numpy as np
import pytest
from fairloaf.analysis.mixed_model.fitting import (
    NotIdentifiable,
    NoVariation,
    RankDeficient,
    fit_reml,
    prepare,
)

from .published import (
    design,
    expected,
    group_effects,
    interaction,
    sum_to_zero,
    table,
    together,
    two_factors,
)

WITH_R = {"rel": 1e-5}
EXACT = {"rel": 1e-9}


def fit_cake():
    data = table("cake.csv")
    X, terms = two_factors(data, "recipe", "temperature")
    groups = {
        "replicate": data["replicate"],
        "replicate x recipe": together(data["replicate"], data["recipe"]),
    }
    return (
        fit_reml(data["angle"].astype(float), X, groups),
        terms,
        expected("cake_split_plot")["replicate_as_block"],
    )


def fit_cake_ignoring_replicates():
    data = table("cake.csv")
    X, terms = two_factors(data, "recipe", "temperature")
    groups = {"replicate x recipe": together(data["replicate"], data["recipe"])}
    return (
        fit_reml(data["angle"].astype(float), X, groups),
        terms,
        expected("cake_split_plot")["replicate_ignored"],
    )


def fit_oats():
    data = table("oats.csv")
    X, terms = two_factors(data, "variety", "nitrogen")
    groups = {"block": data["block"], "block x variety": together(data["block"], data["variety"])}
    return fit_reml(data["yield"].astype(float), X, groups), terms, expected("oats_split_plot")


def fit_oats_unbalanced(crossed=False):
    data = table("oats_unbalanced.csv")
    X, terms = two_factors(data, "variety", "nitrogen", crossed)
    groups = {"block": data["block"], "variety x block": together(data["block"], data["variety"])}
    return (
        fit_reml(data["yield"].astype(float), X, groups),
        terms,
        expected("oats_split_plot_unbalanced"),
    )


def fit_oats_unbalanced_crossed():
    m, terms, values = fit_oats_unbalanced(crossed=True)
    return m, terms, values["with_interaction"]


def fit_machines():
    data = table("machines.csv")
    X, terms = design(machine=sum_to_zero(data["machine"]))
    groups = {
        "worker": data["worker"],
        "worker x machine": together(data["worker"], data["machine"]),
    }
    return fit_reml(data["score"].astype(float), X, groups), terms, expected("machines")


def fit_beets():
    data = table("beets.csv")
    X, terms = design(**{name: sum_to_zero(data[name]) for name in ("block", "sow", "harvest")})
    m = fit_reml(
        data["sugpct"].astype(float),
        X,
        {"block x harvest": together(data["block"], data["harvest"])},
    )
    values = expected("beets_split_plot")
    tests = [{"term": term, **values[term]} for term in ("harvest", "sow")]
    return m, terms, {"tests": tests, "variances": values["variances"]}


def fit_shoes(left_out=()):
    data = table("shoes.csv")
    kept = np.setdiff1d(np.arange(20), left_out)
    material = np.repeat(["a", "b"], 10)[kept]
    wear = np.concatenate([data["wear_a"], data["wear_b"]]).astype(float)[kept]
    X, terms = design(material=sum_to_zero(material))
    name = "shoes_incomplete_pairs" if len(left_out) else "shoes_paired"
    return fit_reml(wear, X, {"boy": np.tile(data["boy"], 2)[kept]}), terms, expected(name)


def fit_shoes_incomplete():
    return fit_shoes(left_out=(0, 11))


def fit_corrosion():
    data = table("corrosion.csv")
    X, terms = two_factors(data, "temperature", "coating")
    return (
        fit_reml(data["resistance"].astype(float), X, {"heat": data["heat"]}),
        terms,
        expected("corrosion_split_plot"),
    )


def fit_paper_pulp():
    data = table("paper_pulp.csv")
    X, terms = two_factors(data, "preparation", "temperature")
    groups = {
        "replicate": data["replicate"],
        "replicate x preparation": together(data["replicate"], data["preparation"]),
    }
    return (
        fit_reml(data["strength"].astype(float), X, groups),
        terms,
        expected("paper_pulp_split_plot"),
    )


def fit_television(attribute, bounded=False):
    data = table("tv_panel.csv")
    X, terms = two_factors(data, "TVset", "Picture")
    groups = {
        "Assessor": data["Assessor"],
        "Assessor x TVset": together(data["Assessor"], data["TVset"]),
        "Assessor x Picture": together(data["Assessor"], data["Picture"]),
    }
    return (
        fit_reml(data[attribute].astype(float), X, groups, bounded=bounded),
        terms,
        expected("tv_panel")[attribute],
    )


PUBLISHED = {
    "cake": fit_cake,
    "cake, replicates ignored": fit_cake_ignoring_replicates,
    "oats": fit_oats,
    "oats unbalanced": fit_oats_unbalanced,
    "oats unbalanced, crossed": fit_oats_unbalanced_crossed,
    "machines": fit_machines,
    "beets": fit_beets,
    "shoes": fit_shoes,
    "shoes incomplete": fit_shoes_incomplete,
    "corrosion": fit_corrosion,
    "paper pulp": fit_paper_pulp,
    "television colour": lambda: fit_television("Coloursaturation"),
    "television noise": lambda: fit_television("Noise"),
    "television sharpness, bounded": lambda: fit_television("Sharpness", bounded=True),
}


@pytest.mark.parametrize("name", PUBLISHED)
def test_f_tests_and_variances_agree_with_r(name):
    m, terms, values = PUBLISHED[name]()
    assert m.converged
    for test in values["tests"]:
        ours = m.f_test(terms[test["term"]])
        assert (ours.f_value, ours.num_df, ours.den_df) == pytest.approx(
            (test["f_value"], test["num_df"], test["den_df"]), **WITH_R
        )
        assert ours.p_value == pytest.approx(test["p_value"], **WITH_R)
    assert m.variances == pytest.approx(values["variances"], **WITH_R, abs=1e-9)
    if "reml_loglik_sum_coding" in values:
        assert m.log_likelihood == pytest.approx(values["reml_loglik_sum_coding"], abs=1e-7)


@pytest.mark.parametrize(
    ("fit", "term"),
    [
        (fit_oats_unbalanced, "nitrogen"),
        (fit_oats_unbalanced, "variety"),
        (fit_cake, "recipe"),
        (fit_machines, "machine"),
    ],
)
def test_marginal_means_agree_with_r(fit, term):
    m, terms, values = fit()
    values = values if f"means_{term}" in values else expected("cake_split_plot")
    columns = terms[term].argmax(1)
    for i, mean in enumerate(values[f"means_{term}"]):
        L = np.zeros(len(m.coefficients))
        L[0] = 1
        L[columns] = np.vstack([np.eye(len(columns)), -np.ones(len(columns))])[i]
        ours = m.contrast(L)
        for field, ours_value in (
            ("mean", ours.estimate),
            ("standard_error", ours.standard_error),
            ("df", ours.df),
            ("ci_low", ours.ci_low),
            ("ci_high", ours.ci_high),
        ):
            assert ours_value == pytest.approx(mean[field], **WITH_R), field


# pbkrtest 0.5.2, vignette a01-pbkrtest, printed for the pairs without two values: F 5.9893, df
# 7.0219, p 0.04418.
def test_incomplete_pairs_agree_with_the_printed_vignette():
    m, terms, _ = fit_shoes_incomplete()
    test = m.f_test(terms["material"])
    assert (test.f_value, test.den_df, test.p_value) == pytest.approx(
        (5.9893, 7.0219, 0.04418), rel=1e-4
    )


# Halekoh & Højsgaard 2014, J. Stat. Softw. 59(9): harvest F 15.2 on 1 and 2 df (figures from
# memory). The df is 2, where Kenward and Roger's scale is 0/0.
def test_two_denominator_df_leave_the_scale_at_one():
    m, terms, _ = fit_beets()
    test = m.f_test(np.vstack([terms["harvest"]]))
    assert (test.den_df, test.scale, test.scale_refused) == (
        pytest.approx(2),
        pytest.approx(1),
        False,
    )


# In unbalanced trials with few mixes Kenward and Roger's scale can come near zero or below (no
# source: met in simulation; here 0.247). The test then has scale 1, and the containment df (6 mixes
# less 3 formulas) when told.
def test_an_absurd_scale_is_refused():
    mix = np.array([0, 0, 1, 2, 3, 3, 3, 4, 5, 5, 5])
    formula = np.equal.outer(mix % 3, [1, 2]).astype(float)
    m = fit_reml(
        [3.8, 4.7, 3.1, 2.5, 4.4, 3.3, 2.1, 3.2, 3.5, 2.8, 2.5],
        np.column_stack([np.ones(11), formula]),
        {"mix": mix},
    )
    L = np.eye(3)[1:]
    refused, told = m.f_test(L), m.f_test(L, containment_df=3)
    assert (refused.scale_refused, refused.scale) == (True, 1)
    assert refused.den_df == pytest.approx(2.118, abs=0.001)
    assert (told.den_df, told.f_value) == (3, refused.f_value)


def stratum(name, term):
    """The row of a classical table of error strata, and the error of its stratum."""
    rows = expected(name)["strata"]
    row = next(r for r in rows if r["term"] == term)
    return row, next(r for r in rows if r["stratum"] == row["stratum"] and r["term"] == "Residuals")


@pytest.mark.parametrize(
    ("fit", "name"),
    [
        (fit_cake, "cake_split_plot"),
        (fit_oats, "oats_split_plot"),
        (fit_machines, "machines"),
        (fit_corrosion, "corrosion_split_plot"),
        (fit_paper_pulp, "paper_pulp_split_plot"),
        (fit_beets, "beets_split_plot"),
    ],
)
def test_balanced_layouts_are_the_classical_strata(fit, name):
    m, terms, _ = fit()
    for term, L in terms.items():
        effect, error = stratum(name, term)
        ours = m.f_test(L)
        assert ours.f_value == pytest.approx(effect["mean_sq"] / error["mean_sq"], **EXACT)
        assert ours.den_df == pytest.approx(error["df"], **EXACT)


def means_squares(y, first, second, assessor):
    """F of both factors of a panel, each against its own interaction with the assessor, by hand."""

    def square(*labels):
        keys, code = np.unique(together(*labels), return_inverse=True)
        means = np.bincount(code, y) / np.bincount(code)
        return len(y) / len(keys) * ((means - y.mean()) ** 2).sum()

    def against(factor):
        alone, people, both = square(factor), square(assessor), square(factor, assessor)
        df, df_people = len(set(factor)) - 1, len(set(assessor)) - 1
        return alone / df / ((both - alone - people) / (df * df_people)), df * df_people

    return against(first), against(second)


def test_negative_variance_gives_the_classical_strata():
    data = table("tv_panel.csv")
    m, terms, _ = fit_television("Sharpness")
    assert m.negative == ("Assessor x Picture",)
    by_hand = means_squares(
        data["Sharpness"].astype(float), data["TVset"], data["Picture"], data["Assessor"]
    )
    for term, (f, df) in zip(("TVset", "Picture"), by_hand, strict=True):
        ours = m.f_test(terms[term])
        assert (ours.f_value, ours.den_df) == pytest.approx((f, df), **EXACT)


def test_negative_mix_variance_is_the_t_test_on_mix_means():
    # Student's t on the means of equal mixes, here with mixes more alike than loaves (invented
    # numbers).
    loaves = np.array(
        [
            [3.0, 5.1, 4.0],
            [4.9, 3.2, 4.1],
            [3.6, 4.4, 4.2],
            [3.9, 5.6, 4.8],
            [5.2, 3.7, 5.1],
            [4.4, 4.9, 5.0],
        ]
    )
    formula = np.repeat([-1.0, 1.0], 9)
    m = fit_reml(
        loaves.ravel(), np.column_stack([np.ones(18), formula]), {"mix": np.repeat(np.arange(6), 3)}
    )
    a, b = loaves.mean(1)[:3], loaves.mean(1)[3:]
    error = np.sqrt((a.var(ddof=1) + b.var(ddof=1)) / 3)
    ours = m.contrast([0, 2])
    assert m.negative == ("mix",)
    assert (ours.estimate, ours.standard_error, ours.df) == pytest.approx(
        (b.mean() - a.mean(), error, 4), **EXACT
    )


def test_bounded_fit_holds_the_variance_at_zero():
    m, _, _ = fit_television("Sharpness", bounded=True)
    assert m.variances["Assessor x Picture"] == 0
    assert (m.negative, m.bounded, m.at_edge) == ((), True, False)


def test_no_groupings_is_least_squares():
    rng = np.random.default_rng(4)
    X = np.column_stack([np.ones(20), rng.normal(size=(20, 2))])
    y = rng.normal(size=20)
    m = fit_reml(y, X, {})
    beta, (rss,), *_ = np.linalg.lstsq(X, y, rcond=None)
    assert m.coefficients == pytest.approx(beta)
    assert m.covariance == pytest.approx(rss / 17 * np.linalg.inv(X.T @ X))
    assert m.contrast([0, 1, 0]).df == pytest.approx(17)
    assert m.residuals == pytest.approx(y - X @ beta)


# Predicted effects of equal groups: (nθ/(σ² + nθ)) (group mean − grand mean); Searle, Casella &
# McCulloch 1992.
def test_group_effects_are_shrunken_means():
    data = table("machines.csv")
    y = data["score"].astype(float)
    m = fit_reml(y, np.ones((54, 1)), {"worker": data["worker"]})
    theta, sigma2 = m.variances["worker"], m.variances["residual"]
    for worker, effect in group_effects(m)["worker"].items():
        mean = y[data["worker"] == worker].mean()
        assert effect == pytest.approx(9 * theta / (sigma2 + 9 * theta) * (mean - y.mean()))
    fixed_and_worker = y.mean() + np.array([group_effects(m)["worker"][w] for w in data["worker"]])
    assert m.fitted == pytest.approx(fixed_and_worker)
    assert m.residuals == pytest.approx(y - fixed_and_worker)


def split_plot(n_mixes=6, loaves=4):
    """A small invented trial: formula on mixes, tin on loaves."""
    mix = np.repeat(np.arange(n_mixes), loaves)
    formula, tin = np.where(mix % 2, 1.0, -1.0), np.tile([1.0, -1.0], len(mix) // 2)
    return np.column_stack([np.ones(len(mix)), formula, tin]), mix


def test_many_responses_are_fitted_as_each_alone():
    X, mix = split_plot()
    rng = np.random.default_rng(7)
    Y = rng.normal(size=(24, 30)) + rng.normal(size=(6, 30))[mix] * np.linspace(0, 2, 30)
    many = prepare(X, {"mix": mix}).fit_many(Y)
    estimate, error, df = many.contrast([0, 2, 0])
    f, den_df, p = many.f_test(np.eye(3)[1:])
    for i in range(30):
        alone = fit_reml(Y[:, i], X, {"mix": mix})
        c, t = alone.contrast([0, 2, 0]), alone.f_test(np.eye(3)[1:])
        assert (estimate[i], error[i], df[i]) == pytest.approx((c.estimate, c.standard_error, c.df))
        assert (f[i], den_df[i], p[i]) == pytest.approx((t.f_value, t.den_df, t.p_value))
        assert many.variances[i] == pytest.approx(list(alone.variances.values()))


def test_loaves_alike_within_every_mix_leave_no_interval():
    X, mix = split_plot()
    m = fit_reml(np.array([4.0, 4.5, 4.1, 4.7, 4.2, 4.4])[mix], X, {"mix": mix})
    assert (m.at_edge, m.converged) == (True, False)
    c = m.contrast([0, 2, 0])
    assert np.isfinite(c.estimate)
    assert np.isnan([c.standard_error, c.df, c.p_value, c.ci_low]).all()


@pytest.mark.parametrize(
    ("groups", "named", "message"),
    [
        (
            {"mix": [0, 0, 0, 0, 1, 1, 1, 1]},
            ("mix",),
            "no variation between 'mix' is left beside the fixed effects",
        ),
        (
            {"mix": [0, 0, 1, 1, 2, 2, 3, 3], "day": list("aabbccdd")},
            ("mix", "day"),
            "variances of 'mix' and 'day' cannot be told apart",
        ),
        (
            {"loaf": range(8)},
            ("loaf", "residual"),
            "variances of 'loaf' and 'residual' cannot be told apart",
        ),
    ],
)
def test_groupings_that_cannot_be_separated_are_named(groups, named, message):
    formula = np.repeat([0.0, 1.0], 4)
    with pytest.raises(NotIdentifiable, match=message) as caught:
        fit_reml(np.arange(8.0), np.column_stack([np.ones(8), formula]), groups)
    assert caught.value.groupings == named


def test_dependent_columns_are_named():
    X, mix = split_plot()
    doubled = np.column_stack([X, X[:, 1], np.zeros(24)])
    with pytest.raises(
        RankDeficient,
        match=r"column 3 \(again\) follows from column 1 \(formula\); "
        r"column 4 \(none\) is all zero",
    ) as caught:
        fit_reml(
            np.arange(24.0),
            doubled,
            {"mix": mix},
            column_names=["mean", "formula", "tin", "again", "none"],
        )
    assert caught.value.columns == (3, 4)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"response": [1.0, 2, np.nan, 4, 5, 6]}, "the response is not a number in row 2"),
        (
            {"design": [[1.0, 1], [1, 2], [1, 3], [1, np.inf], [1, 5], [1, 6]]},
            "the design is not a number in row 3, column 1",
        ),
        (
            {"groups": {"mix": ["a", "a", None, "b", "c", "c"]}},
            "grouping 'mix' has no label in row 2",
        ),
        ({"groups": {"mix": [1.0, 1, 2, 2, np.nan, 3]}}, "grouping 'mix' has no label in row 4"),
        (
            {"groups": {"mix": [1, 1, 2]}},
            r"grouping 'mix' has shape \(3,\), but there are 6 loaves",
        ),
        ({"groups": {"residual": [1, 1, 2, 2, 3, 3]}}, "a grouping cannot be called 'residual'"),
        ({"response": [1.0, 2, 3]}, "the response has 3 values, the design 6 rows"),
        ({"response": [1e200, 2, 3, 4, 5, 6]}, "the response has numbers beyond 1e.100"),
        ({"response": 5 * [5.0] + [5.0]}, "no variation is left"),
    ],
)
def test_what_cannot_be_fitted_says_why(change, message):
    trial = {
        "response": [1.0, 2, 4, 3, 6, 5],
        "design": np.ones((6, 1)),
        "groups": {"mix": [1, 1, 2, 2, 3, 3]},
    }
    with pytest.raises((ValueError, NoVariation), match=message):
        fit_reml(**(trial | change))


@pytest.mark.parametrize(
    ("L", "message"),
    [
        ([[0, 1, 0], [0, 2, 0]], "the rows of L are zero or not independent"),
        ([[0, 0, 0]], "the rows of L are zero or not independent"),
        ([[0, 1]], "L has 2 columns, the design has 3"),
        ([[0, np.nan, 0]], "L is not a number in row 0, column 1"),
    ],
)
def test_a_hypothesis_that_cannot_be_tested_says_why(L, message):
    X, mix = split_plot()
    with pytest.raises(ValueError, match=message):
        fit_reml(np.random.default_rng(1).normal(size=24), X, {"mix": mix}).f_test(L)


def test_confidence_is_a_share():
    X, mix = split_plot()
    m = fit_reml(np.random.default_rng(1).normal(size=24), X, {"mix": mix})
    with pytest.raises(ValueError, match="confidence is a share between 0 and 1, not 95"):
        m.contrast([0, 1, 0], confidence=95)
    narrow, wide = m.contrast([0, 1, 0], confidence=0.5), m.contrast([0, 1, 0], confidence=0.99)
    assert wide.ci_low < narrow.ci_low < narrow.estimate < narrow.ci_high < wide.ci_high


def test_many_responses_may_be_none_or_without_variation():
    X, mix = split_plot()
    model = prepare(X, {"mix": mix})
    assert model.fit_many(np.empty((24, 0))).coefficients.shape == (0, 3)
    exact = model.fit_many(X @ np.array([[4.0, 3.0], [0.5, 0.0], [0.0, 0.0]]))
    estimate, error, df = exact.contrast([0, 2, 0])
    assert exact.no_variation.tolist() == [True, True]
    assert estimate == pytest.approx([1.0, 0.0])
    assert np.isnan([error, df]).all()


def test_too_few_loaves():
    with pytest.raises(NotIdentifiable, match="2 loaves and 2 columns leave nothing"):
        fit_reml([1.0, 2.0], np.eye(2), {})


def test_results_are_plain_data():
    m, terms, _ = fit_machines()
    assert m.contrast([0, 1, 0]).to_dict()["confidence"] == 0.95
    assert set(m.f_test(terms["machine"]).to_dict()) == {
        "f_value",
        "num_df",
        "den_df",
        "p_value",
        "scale",
        "scale_refused",
    }


def test_interaction_helper_orders_columns_by_the_first_term():
    assert interaction(np.array([[1.0, 2.0]]), np.array([[3.0, 5.0]])).tolist() == [
        [3.0, 5.0, 6.0, 10.0]
    ]

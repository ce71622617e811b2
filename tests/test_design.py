"""The design: marginal means, hypotheses, curves, and what cannot be told apart."""

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from fairloaf.analysis.model.coding import DesignError
from fairloaf.analysis.model.design import Term, build_design, interactions
from fairloaf.analysis.model.estimability import independent_columns

REFERENCE = Path(__file__).parent / "reference"
EXPECTED = {
    entry["name"]: entry["expected"]
    for entry in json.loads((REFERENCE / "expected.json").read_text())
}


def least_squares(design, y):
    """Coefficients, their covariance and the residual df."""
    X = np.asarray(design.matrix)
    beta = np.linalg.lstsq(X, y, rcond=None)[0]
    df = len(y) - X.shape[1]
    rest = y - X @ beta
    return beta, np.linalg.inv(X.T @ X) * (rest @ rest) / df, df


def f_value(design, y, L):
    beta, covariance, _ = least_squares(design, y)
    rows = design.reduced(L)
    effect = rows @ beta
    return effect @ np.linalg.solve(rows @ covariance @ rows.T, effect) / len(rows)


def baked(**columns):
    return pd.DataFrame(columns)


# Unbalanced two-way layout (Moore and Krupat 1971): R's type III tests and emmeans,
# tests/reference/expected.json.
class TestConformity:
    data = pd.read_csv(REFERENCE / "conformity.csv")
    y = data["conformity"].to_numpy(float)
    expected = EXPECTED["conformity_unbalanced_two_way"]
    design = build_design(data, interactions(["fcategory", "partner_status"], 2))

    def test_f_tests_are_marginal(self):
        for term, row in zip(self.design.terms, self.expected["type_3"], strict=False):
            assert f_value(self.design, self.y, self.design.term_hypothesis(term)) == pytest.approx(
                row["f_value"]
            )

    @pytest.mark.parametrize(
        ("factor", "key", "level"),
        [
            ("fcategory", "means_fcategory", "fcategory"),
            ("partner_status", "means_partner_status", "partner.status"),
        ],
    )
    def test_marginal_means(self, factor, key, level):
        beta, covariance, _ = least_squares(self.design, self.y)
        means = self.design.means([factor])
        L = self.design.reduced(means.L)
        found = dict(
            zip(
                means.levels[factor],
                zip(L @ beta, np.sqrt(np.diag(L @ covariance @ L.T)), strict=True),
                strict=True,
            )
        )
        for row in self.expected[key]:
            assert found[row[level]] == pytest.approx((row["mean"], row["standard_error"]))


# Incomplete blocks (Scheffé 1959): the blocks' part is averaged out of the means.
def test_means_over_incomplete_blocks():
    data = pd.read_csv(REFERENCE / "detergent.csv").dropna()
    y = data["plates"].to_numpy(float)
    design = build_design(data, [Term(("detergent",))], blocks=["block"])
    expected = EXPECTED["detergent_incomplete_blocks"]
    beta, covariance, df = least_squares(design, y)
    means = design.means(["detergent"])
    L = design.reduced(means.L)
    assert means.estimable.all()
    assert df == pytest.approx(16)
    assert L @ beta == pytest.approx([row["mean"] for row in expected["means"]])
    errors = np.sqrt(np.diag(L @ covariance @ L.T))
    assert errors == pytest.approx([row["standard_error"] for row in expected["means"]])
    found = f_value(design, y, design.term_hypothesis(Term(("detergent",))))
    assert found == pytest.approx(expected["anova_type_3"][1]["f_value"])


# --- numbers -----------------------------------------------------------------------------------

PROOF = baked(formula=list("AAAABBBB") * 2, proof_min=[45, 60, 75, 90] * 4)
CURVE = (
    3
    + 0.02 * PROOF["proof_min"]
    - 0.0001 * PROOF["proof_min"] ** 2
    + 0.5 * (PROOF["formula"] == "B")
)


@pytest.mark.parametrize("shift", [0.0, 1e6], ids=["as it is", "another zero"])
def test_a_curve_comes_back_in_its_own_unit(shift):
    loaves = PROOF.assign(proof_min=PROOF["proof_min"] + shift)
    design = build_design(
        loaves, interactions(["formula", "proof_min"], 2), numbers={"proof_min": 2}
    )
    beta = np.linalg.lstsq(design.matrix, CURVE, rcond=None)[0]
    centre = design.centre("proof_min")
    assert centre == pytest.approx(67.5 + shift)
    slope, bend = design.reduced(design.powers("proof_min")) @ beta
    assert (slope, bend) == pytest.approx((0.02 - 0.0002 * 67.5, -0.0001))
    at_50 = design.reduced(design.at({"formula": "B", "proof_min": 50 + shift})) @ beta
    assert at_50[0] == pytest.approx(3 + 1 - 0.25 + 0.5)


def test_a_formula_is_compared_at_the_mean_of_a_number():
    design = build_design(
        PROOF,
        [Term(("formula",)), Term(("proof_min",)), Term(("formula", "proof_min"))],
        numbers={"proof_min": 1},
    )
    y = CURVE + 0.01 * PROOF["proof_min"] * (PROOF["formula"] == "B")
    beta = np.linalg.lstsq(design.matrix, y, rcond=None)[0]
    difference = design.at({"formula": "B"}) - design.at({"formula": "A"})
    assert (design.reduced(difference) @ beta)[0] == pytest.approx(0.5 + 0.01 * 67.5)


def test_lack_of_fit_leaves_a_perfect_curve_alone():
    design = build_design(PROOF, interactions(["formula", "proof_min"], 2))
    beta = np.linalg.lstsq(design.matrix, CURVE, rcond=None)[0]
    assert design.reduced(design.lack_of_fit("proof_min", 2)) @ beta == pytest.approx(0, abs=1e-10)
    line = design.reduced(design.lack_of_fit("proof_min", 1)) @ beta
    assert len(line) == 2
    assert np.abs(line).max() > 0.01


def test_lack_of_fit_needs_numbers():
    with pytest.raises(DesignError, match="formula has levels that are no numbers"):
        build_design(PROOF, [Term(("formula",))]).lack_of_fit("formula", 1)


# --- what cannot be told apart -----------------------------------------------------------------


def test_factors_that_always_changed_together_are_named():
    loaves = baked(
        tin=list("xxyy") * 2,
        oven_place=["back", "back", "front", "front"] * 2,
        formula=list("AB") * 4,
    )
    design = build_design(loaves, [Term(("formula",)), Term(("tin",)), Term(("oven_place",))])
    assert {(tie.term, tie.tied_to, tie.lost) for tie in design.ties} == {
        ("tin", ("oven_place",), 1),
        ("oven_place", ("tin",), 1),
    }
    assert not design.means(["tin"]).estimable.any()
    assert design.means(["formula"]).estimable.all()
    assert len(design.term_hypothesis(Term(("tin",)))) == 0


def test_a_formula_tied_to_the_day_is_not_estimable_within_days():
    loaves = baked(formula=list("AABB") * 2, day=[1, 1, 2, 2] * 2)
    within = build_design(loaves, [Term(("formula",))], blocks=["day"])
    L = within.at({"formula": "A"}) - within.at({"formula": "B"})
    assert not within.estimable(L)[0]
    assert build_design(loaves, [Term(("formula",))]).estimable(L)[0]
    assert within.ties[0].tied_to == ("day",)
    with pytest.raises(DesignError, match="it is tied to another effect"):
        within.reduced(L)


def test_an_empty_combination_takes_only_the_means_that_need_it():
    loaves = baked(formula=list("AABBC") * 2, tin=list("xyxyx") * 2)
    design = build_design(loaves, interactions(["formula", "tin"], 2))
    means = design.means(["formula"])
    assert dict(zip(means.levels["formula"], means.estimable, strict=True)) == {
        "A": True,
        "B": True,
        "C": False,
    }
    assert design.means(["formula", "tin"]).estimable.sum() == 5
    assert len(design.term_hypothesis(Term(("formula", "tin")))) == 1
    a_minus_b = design.at({"formula": "A"}) - design.at({"formula": "B"})
    assert design.estimable(a_minus_b)[0]


def test_matrix_has_full_rank_whatever_is_tied():
    loaves = baked(
        formula=list("AABBC") * 3, tin=list("xyxyx") * 3, day=[1] * 5 + [2] * 5 + [3] * 5
    )
    design = build_design(loaves.iloc[:-2], interactions(["formula", "tin"], 2), blocks=["day"])
    assert np.linalg.matrix_rank(design.matrix) == design.matrix.shape[1]


# --- laws --------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(20))
def test_the_columns_kept_span_what_all_columns_span(seed):
    """Whatever is copied, nested or nearly so; the rows' order does not choose."""
    rng = np.random.default_rng(seed)
    days, nested = rng.integers(0, 4, 40), rng.integers(0, 3, 40)
    columns = np.column_stack([days[:, None] == range(4), nested[:, None] == range(3)]).astype(
        float
    )
    mixed = columns @ rng.integers(-2, 3, (7, 5))
    matrix = np.column_stack(
        [np.ones(40), columns, mixed, mixed[:, 0] + 1e-12 * rng.normal(size=40)]
    )
    owner = ["mean", *["day"] * 4, *["oven"] * 3, *["mixed"] * 6]
    kept = independent_columns(matrix, owner)
    rank = np.linalg.matrix_rank(np.column_stack([np.ones(40), columns]))
    assert len(kept) == rank == np.linalg.matrix_rank(matrix[:, kept])
    turned = rng.permutation(40)
    assert list(independent_columns(matrix[turned], owner)) == list(kept)


def test_row_order_and_level_names_change_nothing():
    data = TestConformity.data
    other = data.assign(
        fcategory=data["fcategory"].map({"low": "z", "medium": "m", "high": "a"})
    ).sample(frac=1, random_state=3)
    design = build_design(other, interactions(["fcategory", "partner_status"], 2))
    y = other["conformity"].to_numpy(float)
    for term in design.terms:
        same = TestConformity.design.term_hypothesis(term)
        assert f_value(design, y, design.term_hypothesis(term)) == pytest.approx(
            f_value(TestConformity.design, TestConformity.y, same)
        )


def test_levels_keep_the_order_of_a_categorical():
    loaves = baked(
        formula=pd.Categorical(list("abab"), categories=["b", "unused", "a"]), tin=list("xyyx")
    )
    design = build_design(loaves, [Term(("formula",)), Term(("tin",))])
    assert design.levels == {"formula": ("b", "a"), "tin": ("x", "y")}


@pytest.mark.parametrize(
    ("loaves", "message"),
    [
        (baked(tin=list("xy")), "there is no column 'formula'"),
        (baked(formula=["A", "A"]), r"formula has 1 level\(s\) and needs at least 2"),
        (baked(formula=["A", "B", None]), "formula is missing for 1 loaves"),
    ],
    ids=["absent", "one level", "missing"],
)
def test_what_cannot_be_built_is_said(loaves, message):
    with pytest.raises(DesignError, match=message):
        build_design(loaves, [Term(("formula",))])


def test_all_faults_are_told_at_once():
    with pytest.raises(DesignError, match="there is no column 'tin'; formula has 1 level"):
        build_design(baked(formula=["A", "A"]), [Term(("tin",)), Term(("formula",))])


def test_a_level_that_was_not_baked_is_refused():
    design = build_design(PROOF, [Term(("formula",))])
    with pytest.raises(DesignError, match="formula 'C' was not baked; there are A, B"):
        design.at({"formula": "C"})
    with pytest.raises(DesignError, match="not in this design: tin; it has formula"):
        design.at({"tin": "x"})

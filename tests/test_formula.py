"""Baker's percentages, checked by hand."""

import pytest
from fairloaf.trials.formula import (
    bakers_percentages,
    flour_share,
    flour_total,
    hydration,
    is_flour,
)
from hypothesis import given
from hypothesis import strategies as st

WHITE = {"flour": 100, "water": 60, "salt": 1.8, "yeast": 1.5}


def test_percentages_of_masses():
    # Common practice, no source; by hand: 16 kg flour with 9.25 kg water is 57.8125 %.
    assert bakers_percentages({"flour": 16, "water": 9.25}) == {"flour": 100, "water": 57.8125}
    assert hydration({"flour": 240, "water": 180}) == 75


def test_the_flour_in_a_dough():
    assert flour_share(WHITE) == pytest.approx(100 / 163.3, rel=1e-14)
    # by hand: 460000 / 163.3
    assert 4600 * flour_share(WHITE) == pytest.approx(2816.90140845, rel=1e-11)


def test_several_flours_are_one_total():
    parts = {"flour": 78, "malted_flour": 2, "rye-flour": 15, "oat meal": 5, "water": 62, "malt": 1}
    assert flour_total(parts) == 100
    assert bakers_percentages(parts)["malt"] == 1


def test_flours_may_be_named():
    assert flour_total({"spelt": 30, "rye": 70, "water": 65}, flours={"spelt", "rye"}) == 100


@pytest.mark.parametrize(
    ("name", "answer"),
    [
        ("flour", True),
        ("Wholemeal", True),
        ("rye_flour", True),
        ("buckwheat flour", True),
        ("cornmeal", True),
        ("semolina", True),
        ("water", False),
        ("flourescent", False),
        ("malt", False),
        ("mealworm", False),
    ],
)
def test_what_counts_as_flour(name, answer):
    assert is_flour(name) is answer


def test_no_flour_is_an_error_that_names_what_there_is():
    with pytest.raises(ValueError, match=r"no flour among: water, salt"):
        bakers_percentages({"water": 60, "salt": 2})
    with pytest.raises(ValueError, match=r"no flour among: nothing"):
        flour_total({})


@given(st.floats(0.1, 1000), st.floats(0, 1000), st.floats(0.001, 1000))
def test_the_unit_does_not_matter(flour, water, factor):
    one = bakers_percentages({"flour": flour, "water": water})
    other = bakers_percentages({"flour": flour * factor, "water": water * factor})
    assert other == pytest.approx(one, rel=1e-9)

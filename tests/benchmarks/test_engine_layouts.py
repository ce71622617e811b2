"""The fast engine against the plain n × n formulas, on fifty layouts of each kind.

The suite tries six. Run with -m benchmark -s; it prints how many were compared.
"""

import pytest

from ..test_engine_agreement import KINDS, compare_bounded, compare_identifiable, compare_layouts

pytestmark = pytest.mark.benchmark


@pytest.mark.parametrize("kind", KINDS)
def test_fifty_layouts_agree_with_the_dense_formulas(kind):
    compared, negative = compare_layouts(kind, 50)
    print(f"\n{kind}: {compared} of 50 agree (have an inner optimum), {negative} below zero")
    assert compared >= 25
    assert negative >= 5


@pytest.mark.parametrize("kind", KINDS)
def test_bounded_fits_agree_with_the_dense_formulas(kind):
    held = compare_bounded(kind, 10)
    print(f"\n{kind}: 10 bounded fits agree, {held} with a variance held at zero")
    assert held >= 2


def test_identifiability_is_the_rank_of_the_projected_groupings():
    refused = compare_identifiable(300)
    print(f"\n{refused} of 300 layouts refused")
    assert 20 <= refused <= 280

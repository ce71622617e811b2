"""How often an odd assessor is found and named, and how often somebody is named in a panel of alike assessors.

Run with -m benchmark -s; it prints what it finds. The panels: two formulas, three mixes of two loaves each (12
loaves), five attributes, whole scores from 1 to 10, 6 to 12 assessors. Assessors are practised: their severities
have an SD of 0.2 points in all and 0.3 more in each attribute, their scatter about the bread is 1 point, and both
their scatter and their use of the scale differ by some 15 % from person to person.
"""

import numpy as np
import pandas as pd
import pytest
from fairloaf.analysis.scoring.assessors import describe_assessors

PANELS = 420


def simulate(rng, m, *, loaves=12, attributes=5, general=0.2, special=0.3, slopes=0.15, scatters=0.15, bread=1.2,
             odd=(), missing=0.0):
    """Return scores (long table) of one panel; ``odd`` says what the first assessors of a panel do otherwise."""
    shape = (loaves, attributes)
    formula, mix = np.repeat([-0.5, 0.5], loaves // 2), np.arange(loaves) // 2
    quality = bread * (formula[:, None] * rng.normal(size=attributes)
                       + 0.4 * rng.normal(size=(loaves // 2, attributes))[mix] + 0.4 * rng.normal(size=shape))
    use, noise = np.exp(rng.normal(0, slopes, (m, 1, 1))), np.exp(rng.normal(0, scatters, (m, 1, 1)))
    severity = rng.normal(0, general, (m, 1, 1)) + rng.normal(0, special, (m, 1, attributes))
    score = 5.5 + use * quality + severity + noise * rng.normal(size=(m, *shape))
    for place, what in enumerate(odd):
        score[place] = odd_scores(what, score[place], rng)
    score = np.clip(np.rint(score), 1, 10)
    score[rng.random((m, loaves)) < missing] = np.nan
    places = np.indices(score.shape).reshape(3, -1)
    table = pd.DataFrame({"assessor": places[0], "loaf": places[1], "attribute": places[2], "score": score.ravel()})
    return table.astype({"assessor": str, "loaf": str, "attribute": str}).dropna()


def odd_scores(what, score, rng):
    """Return one assessor's scores made odd."""
    if what == "two points harsher":
        return score - 2
    if what == "at random":
        return rng.uniform(0.5, 10.5, score.shape)
    return 5.5 + 0.3 * (score - 5.5)                # a narrow scale: three tenths of what the others use


EXPECTED = {"two points harsher": {"harsher"}, "at random": {"own way"}, "narrow scale": {"narrower"}}


def named(table):
    """Return assessor → what was said."""
    apart = describe_assessors(table, width=9, step=1).apart
    return {who: set(rows["direction"]) for who, rows in apart.groupby("assessor")}


def rates(panels, odd=(), **settings):
    """Return in % how often each odd assessor is named for what it does, and how often anybody else is."""
    hits, alarms = np.zeros(len(odd)), 0
    for i in range(panels):
        said = named(simulate(np.random.default_rng([i, 7]), 6 + i % 7, odd=odd, **settings))
        hits += [EXPECTED[what] <= said.pop(str(place), set()) for place, what in enumerate(odd)]
        alarms += bool(said)
    return 100 * hits / panels, 100 * alarms / panels


@pytest.mark.benchmark
def test_odd_assessors_are_found_and_named():
    print()
    for what in EXPECTED:
        found, others = rates(PANELS, (what,))
        print(f"{what}: found and named in {found[0]:.1f} of 100 panels, somebody else in {others:.1f}")
        assert found[0] >= 95
    found, others = rates(PANELS, tuple(EXPECTED))
    print(f"all three in one panel: {', '.join(f'{rate:.1f}' for rate in found)}; somebody else in {others:.1f}")
    _, alarms = rates(PANELS)
    print(f"nobody odd: somebody is named in {alarms:.1f} of 100 panels")
    assert alarms <= 5


OTHER_PANELS = {
    "severities three times as wide (0.65 points in all, 0.9 an attribute)": {"general": 0.65, "special": 0.9},
    "scatter and use of the scale twice as unlike": {"slopes": 0.3, "scatters": 0.3},
    "breads that do not differ": {"bread": 0.0},
    "3 attributes, 8 loaves": {"attributes": 3, "loaves": 8},
    "1 attribute": {"attributes": 1},
    "1 attribute, 4 loaves": {"attributes": 1, "loaves": 4},
    "15 attributes": {"attributes": 15},
    "a third of the loaves not scored": {"missing": 0.33},
}


@pytest.mark.benchmark
@pytest.mark.parametrize("what", OTHER_PANELS)
def test_other_panels(what):
    found = {odd: rates(PANELS // 3, (odd,), **OTHER_PANELS[what])[0][0] for odd in EXPECTED}
    alarms = rates(PANELS // 3, **OTHER_PANELS[what])[1]
    print(f"\n{what}: false alarms {alarms:.1f} of 100; found: "
          + ", ".join(f"{odd} {rate:.1f}" for odd, rate in found.items()))
    assert alarms <= 8

"""What may be said when: for every sentence that claims something, the condition on the result
behind it.

The sentence is known by its words; the condition is on numbers alone, worked out again from the
result and not by the code that worded it. `test_truth.py` reads every answer of random trials
against these tables.
"""

from __future__ import annotations

import math
import re
from types import SimpleNamespace

LIKELY = re.compile(r"likely between ([−\d.,]+|just above 0|just below 0) %? ?and")
EITHER_WAY = re.compile(r"anything from .+? is likely")


def real(row):
    """The interval leaves zero out."""
    return row.ci_low > 0 or row.ci_high < 0


def known(row):
    """There is an interval."""
    return math.isfinite(row.ci_low) and math.isfinite(row.ci_high)


def inside(row, matters):
    """The interval lies wholly inside what does not matter."""
    return -matters < row.ci_low and row.ci_high < matters


def beyond(row, matters):
    """The interval lies wholly at or beyond what matters."""
    return row.ci_low >= matters or row.ci_high <= -matters


# words of a comparison's answer → condition on (c, what matters)
COMPARISON = {
    "All of that is at least the": lambda c, m: known(c) and real(c) and beyond(c, m),
    "The difference is real; whether it reaches": lambda c, m: (
        real(c) and not beyond(c, m) and not inside(c, m)
    ),
    "The difference is real, but smaller than": lambda c, m: real(c) and inside(c, m),
    "A difference, if there is one, is smaller than": lambda c, m: (
        known(c) and not real(c) and inside(c, m)
    ),
    (
        "So it is not settled: these mixes could have come out like this if there were no"
        " difference at all, and"
    ): lambda c, m: known(c) and not real(c) and not inside(c, m),
    "The difference is real; whether it matters depends": lambda c, m: m is None and real(c),
    (
        "So it is not settled: these mixes could have come out like this if there were no"
        " difference at all."
    ): lambda c, m: m is None and known(c) and not real(c),
    "It is not settled.": lambda c, m: not known(c),
    "(likely between": lambda c, m: real(c) or any(real(row) for row in undoing(c, m)),
    "is likely;": lambda c, m: known(c) and not real(c),
    "The difference depends on": lambda c, m: (c.by_level["interaction_p"] < 0.05).any(),
    "did not differ in": lambda c, m: c.difference == 0,
    "too: adjusted for it,": lambda c, m: len(undoing(c, m)),
    "can tell what came from which": lambda c, m: tied(c, c.fairness.table[c.fairness.apart], m),
}

# words beside a comparison → condition on c
BESIDE = {
    "The verdict stays the same without any": lambda c: (
        len(c.steadiness.table) and all(v == c.verdict for v in left_out_verdicts(c))
    ),
    "The verdict stays the same without": lambda c: c.verdict in left_out_verdicts(c),
    "The answer hangs on that": lambda c: any(
        v != c.verdict
        for v, chance in zip(left_out_verdicts(c), c.steadiness.table["apart_p_value"], strict=True)
        if chance < 0.05
    ),
    "stands out: none lies farther": lambda c: (
        not (c.steadiness.table["apart_p_value"] < 0.05).any()
    ),
    "out, farther from the others": lambda c: (c.steadiness.table["apart_p_value"] < 0.05).any(),
    "cannot be tried: without it too few": lambda c: (
        min(c.n_mixes[c.formula], c.n_mixes[c.against]) <= 2
    ),
    "The two opinions agree": lambda c: (
        known(c) and c.second_opinion is not None and c.second_opinion.agrees is True
    ),
    "The two opinions disagree": lambda c: (
        known(c) and c.second_opinion is not None and c.second_opinion.agrees is False
    ),
    "would take about": lambda c: (
        c.settle is not None
        and c.verdict in ("not settled", "real, size unsure")
        and c.settle.mixes_needed is not None
        and c.settle.more_mixes == max(c.settle.mixes_needed - c.settle.mixes_now, 0)
    ),
    "have an 80 % chance to show": lambda c: c.matters is not None and not real(c),
    "make the likely range half as wide on average": lambda c: (
        known(c) and math.isclose(c.settle.half_width, (c.ci_high - c.ci_low) / 4)
    ),
    "would not have an 80 % chance": lambda c: c.settle.mixes_needed is None,
    "would not make the likely range": lambda c: c.settle.mixes_needed is None,
    "as many as now": lambda c: c.settle is None or not c.settle.more_mixes,
    "Were the spread known": lambda c: (
        c.settle.mixes_low
        <= (c.settle.mixes_needed or math.inf)
        <= (c.settle.mixes_high or math.inf)
    ),
    "There is only one mix of": lambda c: min(c.n_mixes[c.formula], c.n_mixes[c.against]) < 2,
    "this was reached through": lambda c: c.pairs["reached"].notna().any(),
}


def left_out_verdicts(c):
    """The verdicts with one mix or day left out, worked out again from their ranges."""
    return [verdict_of(row, c.matters) for row in c.steadiness.table.itertuples()]


def undoing(c, matters):
    """The ranges adjusted for a condition that stood apart, where they undo what was settled."""
    told = SimpleNamespace(difference=c.difference, ci_low=c.ci_low, ci_high=c.ci_high)
    return undoing_of(told, c.fairness.table[c.fairness.apart], matters)


def undoing_effect(f, row):
    """The same of a factor's effect, a row of the effects."""
    told = SimpleNamespace(difference=row.size, ci_low=row.ci_low, ci_high=row.ci_high)
    return undoing_of(told, f.stood_apart[f.stood_apart["factor"] == row.factor], f.matters)


def tied(told, conditions, matters):
    """Whether something is settled that one of the conditions that stood apart cannot be told
    from.
    """
    settled = verdict_of(told, matters) != "not settled"
    return settled and (conditions["handled"] == "cannot be told apart").any()


def tied_effect(f, row):
    """The same of a factor's effect, a row of the effects."""
    return tied(row, f.stood_apart[f.stood_apart["factor"] == row.factor], f.matters)


def undoing_of(told, conditions, matters):
    """Those of the adjusted ranges of some conditions that undo what is told."""
    ranges = [
        SimpleNamespace(
            difference=row.adjusted_difference,
            ci_low=row.adjusted_ci_low,
            ci_high=row.adjusted_ci_high,
        )
        for row in conditions.itertuples()
        if row.handled == "adjusted"
    ]
    now = verdict_of(told, matters)
    return [
        row
        for row in ranges
        if now != "not settled"
        and not told.ci_low <= row.difference <= told.ci_high
        and verdict_of(row, matters) != now
    ]


def verdict_of(row, matters):
    """The one verdict whose condition the range fulfils."""
    (one,) = (name for name, allowed in VERDICTS.items() if allowed(row, matters))
    return one


# words of a row of a table of verdicts → condition on the row
VERDICTS = {
    "matters": lambda row, m: m is not None and real(row) and beyond(row, m),
    "real, size unsure": lambda row, m: (
        real(row) and (m is None or not (beyond(row, m) or inside(row, m)))
    ),
    "real but small": lambda row, m: m is not None and real(row) and inside(row, m),
    "no difference that matters": lambda row, m: m is not None and not real(row) and inside(row, m),
    "not settled": lambda row, m: (
        not known(row) or (not real(row) and (m is None or not inside(row, m)))
    ),
}


def _shown(f):
    return f.effects[f.effects["ci_low"] > 0]


def _judged(f):
    """The factors whose effect has a range."""
    return set(f.effects.loc[f.effects["ci_low"].notna(), "factor"])


def _by_its_test(f, factor):
    return (f.tests.loc[f.tests["term"] == factor, "p_value"] < 1 - f.confidence).any()


def _leads(f, sentence, effects):
    """The sentence begins with the name of one of these effects' factors."""
    said = [f.factor_labels[name] for name in effects["factor"]]
    return any(sentence.lower().startswith(name.lower()) for name in said)


# words of the factors' first sentence → condition on (f, sentence)
HEADLINE = {
    "These loaves cannot say what moved": lambda f, s: f.effects.empty,
    "How surely": lambda f, s: len(f.effects) and f.effects["ci_low"].isna().all(),
    " is shown to have moved": lambda f, s: (
        f.effects["ci_low"].notna().any()
        and _shown(f).empty
        and not any(_by_its_test(f, name) for name in f.effects["factor"])
    ),
    "that can be judged is shown": lambda f, s: _judged(f) < set(f.factors),
    "No factor is shown": lambda f, s: _judged(f) == set(f.factors),
    "Nothing is shown": lambda f, s: len(f.factors) == 1,
    " moved ": lambda f, s: (
        any(words in s for words in ("cannot", "shown", "no two of its levels"))
        or _leads(f, s, _shown(f).head(1))
    ),
    " most: ": lambda f, s: (
        len(f.factors) > 1
        and _judged(f) == set(f.factors)
        and _leads(f, s, f.effects.head(1))
        and f.effects["ci_low"].iloc[0] > 0
    ),
    "though no two of its levels are told apart": lambda f, s: _shown(f).empty,
    "may be none at all": lambda f, s: "is likely" in s,
}

# words of the factors' other sentences → condition on (f, the factor that the sentence begins with,
# its effect's row)
OF_A_FACTOR = {
    " is not shown to have moved it": lambda f, name, row: (
        not row.ci_low > 0 and known(row) and not _by_its_test(f, name)
    ),
    " moved it, though no two": lambda f, name, row: not row.ci_low > 0 and _by_its_test(f, name),
    " cannot be judged": lambda f, name, row: not known(row),
    "All of that is at least the": lambda f, name, row: row.ci_low >= f.matters,
    "The difference is real, but smaller than": lambda f, name, row: (
        real(row) and inside(row, f.matters)
    ),
    "The difference is real; whether it reaches": lambda f, name, row: (
        real(row) and not beyond(row, f.matters) and not inside(row, f.matters)
    ),
    "A difference, if there is one, is smaller than": lambda f, name, row: (
        not real(row) and inside(row, f.matters)
    ),
    "too: adjusted for it,": lambda f, name, row: len(undoing_effect(f, row)),
    "can tell what came from which": lambda f, name, row: tied_effect(f, row),
}

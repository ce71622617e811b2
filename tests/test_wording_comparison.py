"""What a baker reads of a comparison: whole sentences, the plain words first, a p-value never."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from fairloaf.analysis.answers import compare_formulas, factor_effects
from fairloaf.analysis.comparison.percent import Percent
from fairloaf.analysis.comparison.randomisation import RandomisationTest
from fairloaf.analysis.comparison.settle import Settle
from fairloaf.analysis.comparison.steadiness import Steadiness
from fairloaf.analysis.verdict import verdict
from fairloaf.analysis.wording.classroom import class_answer, class_next, class_sure
from fairloaf.analysis.wording.comparison import (
    answer,
    as_sure_line,
    choice_line,
    comparison_lines,
    comparison_text,
    drift_line,
    left_out_line,
    means_apart_line,
    pair_lines,
    percent_line,
    settle_lines,
    steadiness_lines,
)
from fairloaf.analysis.wording.comparison_pictures import difference_axis
from fairloaf.analysis.wording.interval_line import interval_line
from fairloaf.analysis.wording.second_opinion import how_line, opinion_line
from fairloaf.trials import load_trial
from fairloaf.trials.words.numbers import ENGLISH, NumberStyle

from .bakes import as_trial, bake, in_turn
from .random_trials import random_trial


@pytest.fixture(scope="module")
def compared():
    return compare_formulas(as_trial(bake()))


def told(c, difference, low, high, matters=0.20, **more):
    """The comparison with another result."""
    return replace(
        c,
        difference=difference,
        ci_low=low,
        ci_high=high,
        matters=matters,
        verdict=verdict(low, high, matters),
        **more,
    )


BIGGER = "Malted loaves were bigger than house loaves by"
SMALLER = "Malted loaves were smaller than house loaves by"
UNSURE = (
    "The difference is real; whether it reaches the 0.20 mL/g that you said matters is not sure."
)


@pytest.mark.parametrize(
    ("difference", "low", "high", "sentence"),
    [
        (
            0.41,
            0.26,
            0.57,
            (
                f"{BIGGER} 0.41 mL/g (likely between 0.26 and 0.57; 4 mixes each). "
                "All of that is at least the 0.20 mL/g that you said matters."
            ),
        ),
        (
            0.31,
            0.12,
            0.50,
            f"{BIGGER} 0.31 mL/g (likely between 0.12 and 0.50; 4 mixes each). {UNSURE}",
        ),
        (
            -0.31,
            -0.50,
            -0.12,
            f"{SMALLER} 0.31 mL/g (likely between 0.12 and 0.50; 4 mixes each). {UNSURE}",
        ),
        (
            0.10,
            0.04,
            0.16,
            (
                f"{BIGGER} 0.100 mL/g (likely between 0.040 and 0.160; 4 mixes each). "
                "The difference is real, but smaller than the 0.20 mL/g that you said matters."
            ),
        ),
        (
            0.02,
            -0.11,
            0.15,
            (
                f"{BIGGER} 0.02 mL/g (anything from 0.11 smaller to 0.15 bigger is likely; 4 mixes"
                " each). A difference, if there is one, is smaller than the 0.20 mL/g that you"
                " said matters."
            ),
        ),
        (
            0.15,
            -0.10,
            0.40,
            (
                f"{BIGGER} 0.15 mL/g (anything from 0.10 smaller to 0.40 bigger is likely; 4 mixes"
                " each). So it is not settled: these mixes could have come out like this if"
                " there were"
                " no difference at all, and also if there were one of 0.20 mL/g or more."
            ),
        ),
    ],
)
def test_the_five_verdicts(compared, difference, low, high, sentence):
    assert answer(told(compared, difference, low, high), style=ENGLISH) == sentence


@pytest.mark.parametrize(
    ("low", "high", "sentence"),
    [
        (
            0.12,
            0.50,
            "The difference is real; whether it matters depends on what nobody has said yet.",
        ),
        (-0.12, 0.50, "if there were no difference at all."),
    ],
)
def test_what_matters_is_asked_for(compared, low, high, sentence):
    said = answer(told(compared, 0.31, low, high, matters=None), style=ENGLISH)
    assert sentence in said
    assert said.endswith(
        "Say what difference would be worth acting on, as  matters  on the card or with "
        "--matters, "
        "and ask again."
    )


def test_one_mix(compared):
    c = told(compared, 0.31, np.nan, np.nan, n_mixes={"house": 1, "malted": 1})
    assert (
        answer(c, style=ENGLISH)
        == "Malted loaves were bigger than house loaves by 0.310 mL/g (1 mix each). It is not"
        " settled. There is only one mix of malted and house: loaves of one mix are repeat looks"
        " at a single trial, so that nothing shows how another mix would have turned out."
    )


@pytest.mark.parametrize(
    ("measure", "label", "unit", "words"),
    [
        (
            "height_mm",
            "Height",
            "mm",
            "Malted loaves were taller than house loaves by 4.0 mm (likely between 2.0 and 6.0",
        ),
        (
            "bake_loss_pct",
            "Bake loss",
            "%",
            (
                "Malted loaves lost more in the oven than house loaves, by 4.0 percentage points"
                " (likely between 2.0 and 6.0"
            ),
        ),
        (
            "crumb_open_holes",
            "Crumb open holes",
            "points",
            "Malted loaves scored higher for open holes than house loaves, by 4.0 points",
        ),
        ("loaf_g", "Baked mass", "g", "Malted loaves were heavier than house loaves by 4.0 g"),
        (
            "air_fraction",
            "Air fraction",
            "",
            "Malted loaves were airier than house loaves by 4.0 (likely",
        ),
        (
            "crust_colour",
            "Crust colour",
            "L*",
            "Crust colour was higher with malted than with house, by 4.0 L*",
        ),
    ],
)
def test_every_measure_has_its_words(compared, measure, label, unit, words):
    known = {"measure": measure, "label": label, "label_inside": label.lower(), "unit": unit}
    c = told(compared, 4.0, 2.0, 6.0, matters=3.0, **known)
    assert answer(c, style=ENGLISH).startswith(words)


def test_unequal_numbers_of_mixes_are_said(compared):
    c = told(compared, 0.31, 0.12, 0.50, n_mixes={"house": 3, "malted": 4})
    assert "; 4 mixes of malted, 3 of house)" in answer(c, style=ENGLISH)


@pytest.mark.parametrize("interacts", [True, False])
def test_the_difference_at_each_level_is_told_whether_it_depends_on_it_or_not(compared, interacts):
    levels = compared.by_level.assign(
        level=[45.0, 60.0],
        factor="proof_min",
        interacts=interacts,
        interaction_p=0.012,
        difference=[0.3, -0.1],
        ci_low=[0.2, -0.3],
        ci_high=[0.4, 0.1],
    )
    c = told(compared, 0.31, 0.12, 0.50, by_level=levels)
    opens = "The difference depends on proof time. Over all levels alike, malted loaves were bigger"
    assert answer(c, style=ENGLISH).startswith(opens) == interacts
    assert (
        "Malted less house by proof time: 45 min, 0.30 mL/g bigger (likely between 0.20 and 0.40);"
        " 60 min, 0.10 mL/g smaller (anything from 0.30 smaller to 0.10 bigger is likely)."
        " Each range holds for its own proof time, not for all of them together."
        in comparison_lines(c, style=ENGLISH)
    )
    unknown = told(c, 0.31, 0.12, 0.50, by_level=levels.assign(ci_low=np.nan, ci_high=np.nan))
    assert not any("Each range holds" in line for line in comparison_lines(unknown, style=ENGLISH))


def test_the_readers_decimal_mark_is_kept_throughout(compared):
    german = NumberStyle(decimal_mark=",", language="en-DE")
    c = told(compared, 0.31, 0.12, 0.50)
    lines = [
        answer(c, german),
        percent_line(c, german),
        how_line(c, german),
        interval_line(c, 2, german),
    ]
    assert all("." not in line.rstrip(".").replace(". ", "") for line in lines), lines


def test_a_p_value_never_leads(compared):
    for line in comparison_text(compared, style=ENGLISH).splitlines():
        assert not line.startswith("p ")
    assert "p =" not in compared.sentence


def test_the_text_picture_shows_interval_zones_and_none(compared):
    line = interval_line(told(compared, 0.31, 0.12, 0.50), 2, style=ENGLISH)
    assert (
        line == "−0.20 ░░░░░░░░░░░░░░0░░░░░░░┣━━━━━━━━━━━━●━━━━━━━━━━━━┫ 0.50 mL/g   ░ too small to"
        " matter"
    )
    alone = interval_line(told(compared, 0.31, 0.12, 0.50, matters=None), 2, style=ENGLISH)
    assert alone.startswith("0.00 0····")
    assert alone.endswith("━┫ 0.50 mL/g")


def opinion(**more) -> RandomisationTest:
    facts = {
        "p_value": 0.0317,
        "smallest_p": 0.00794,
        "n_rearrangements": 252,
        "n_used": 252,
        "exact": True,
        "unit": "mix",
        "blocked": False,
        "model_p": 0.03,
        "agrees": True,
    }
    return RandomisationTest(**(facts | more))


def test_the_second_opinion(compared):
    first = (
        "A second opinion that assumes little: deal the two formulas out anew among the mixes, in"
        " all 252 ways, and a difference this large comes up with p = 0.032."
    )
    c = replace(compared, second_opinion=opinion())
    assert (
        opinion_line(c, style=ENGLISH)
        == f"{first} The two opinions agree (the least possible p is 0.00794)."
    )
    c = replace(compared, second_opinion=opinion(agrees=False))
    assert (
        opinion_line(c, style=ENGLISH)
        == f"{first} The two opinions disagree: trust neither alone (the least possible p is"
        " 0.00794)."
    )
    c = replace(
        compared,
        second_opinion=opinion(
            p_value=0.1, smallest_p=0.1, n_rearrangements=20, n_used=20, agrees=None
        ),
    )
    assert opinion_line(c, style=ENGLISH).endswith(
        "In a trial of this size that can never go below 0.100, so it neither "
        "confirms nor "
        "contradicts."
    )
    c = replace(
        compared, second_opinion=opinion(exact=False, n_used=20_000, unit="day", blocked=True)
    )
    assert "among the days inside their blocks, in 20,000 ways drawn by lot" in opinion_line(
        c, style=ENGLISH
    )


def settle(**more) -> Settle:
    facts = {
        "goal": "power",
        "power": 0.8,
        "matters": 0.2,
        "half_width": None,
        "unit": "mix",
        "sd_mix": 0.1,
        "sd_loaf": 0.1,
        "mixes_now": 3,
        "loaves_per_mix": 4.0,
        "mixes_needed": 9,
        "more_mixes": 6,
        "mixes_low": 5,
        "mixes_high": None,
        "options": pd.DataFrame(),
    }
    return Settle(**(facts | more))


def test_what_is_out_of_reach_either_way_is_said_once(compared):
    c = told(compared, 0.15, -0.10, 0.40)
    assert (
        settle_lines(replace(c, settle=settle(mixes_low=None, mixes_high=None)), style=ENGLISH)[1]
        == "That is rough: 3 mixes of each show the spread poorly, which is allowed for."
    )


def test_what_would_settle_it(compared):
    c = told(compared, 0.15, -0.10, 0.40)
    assert settle_lines(replace(c, settle=settle()), style=ENGLISH) == [
        (
            "To have an 80 % chance to show a difference of 0.20 mL/g would take about 9 mixes of"
            " each formula with 4 loaves in each: 6 more than now."
        ),
        (
            "That is rough: 3 mixes of each show the spread poorly, which is allowed for. Were the"
            " spread known to be as small or as large as it may well be, 5 or more than 100"
            " would do."
        ),
    ]
    half = settle(goal="half width", mixes_needed=None, more_mixes=None)
    assert (
        settle_lines(replace(c, settle=half), style=ENGLISH)[0]
        == "Even 100 mixes of each formula with 4 loaves in each would not make the likely range"
        " half as wide on average: measure more surely, or ask about a larger difference."
    )
    assert settle_lines(replace(c, settle=None), style=ENGLISH) == []


def test_steadiness(compared):
    rows = [
        ("mix", "M1", True, True),
        ("mix", "H2", True, True),
        ("day", "Mon", True, True),
        ("mix", "M3", False, True),
        ("mix", "M4", True, False),
    ]
    table = pd.DataFrame(
        [
            (kind, name, 0.3, 0.1, 0.5, "not settled" if changed else "matters", changed, 0.01, out)
            for kind, name, changed, out in rows
        ],
        columns=compared.steadiness.table.columns,
    )
    c = replace(compared, steadiness=Steadiness(table=table, reason=""))
    assert c.steadiness.hangs_on == (("mix", "M1"), ("mix", "H2"), ("day", "Mon"))
    assert steadiness_lines(c) == [
        (
            "Mix M3 stands out, farther from the others than chance explains. The verdict stays the"
            " same without it. Look up what was different there."
        ),
        (
            "Mix M1 and H2, and day Mon stand out, farther from the others than chance explains."
            " The answer hangs on that: it would be “not settled” without them. Look up what was"
            " different there."
        ),
    ]
    none = "No mix and no day stands out: none lies farther from the others than chance explains."
    sound = table.assign(stands_out=False)
    assert steadiness_lines(replace(c, steadiness=Steadiness(table=sound, reason=""))) == [none]
    steady = Steadiness(table=sound.assign(changed=False), reason="")
    assert steadiness_lines(replace(c, steadiness=steady)) == [
        "The verdict stays the same without any one mix or any one day.",
        none,
    ]


def test_percent_and_choice(compared):
    c = replace(compared, percent=Percent(difference=7.75, ci_low=3.0, ci_high=12.5))
    assert (
        percent_line(c, style=ENGLISH)
        == "In percent of house: 7.8 % (likely between 3.0 % and 12.5 %)."
    )
    assert percent_line(replace(c, unit="%"), style=ENGLISH) == ""
    assert (
        choice_line(replace(c, choice="first as control"))
        == "No control is named on the card: house was taken, because it comes first in the"
        " alphabet."
    )
    assert "(Tukey)" in choice_line(replace(c, adjustment="Tukey", choice="all pairs"))


def test_other_pairs_have_a_line_each(compared):
    other = pd.DataFrame(
        [("seeded", "house", -0.3, -0.5, -0.1, "real, size unsure", None, ())],
        columns=[
            "formula",
            "against",
            "difference",
            "ci_low",
            "ci_high",
            "verdict",
            "reached",
            "ignored",
        ],
    )
    assert pair_lines(replace(compared, pairs=other), style=ENGLISH) == [
        "Seeded loaves were smaller than house loaves by 0.30 mL/g (likely between 0.10 and 0.50):"
        " real, size unsure."
    ]


def test_the_whole_text_names_what_was_fair(compared):
    text = comparison_text(compared, style=ENGLISH)
    assert text.startswith(compared.sentence)
    assert "Compared within each: bake day." in text
    assert (
        "Kept the same: dough temperature, cooling time, dough mass, baker and oven place." in text
    )
    assert "Varied, but about alike for both: baking order." in text


def test_a_drifted_condition_tells_how_far_and_what_becomes_of_the_difference(compared):
    row = {
        "label": "Dough temperature",
        "condition": "dough_temp_c",
        "kind": "number",
        "unit": "°C",
        "difference": -0.525,
        "in_sd": -0.89,
        "handled": "adjusted",
        "adjusted_difference": 0.27,
        "adjusted_ci_low": 0.08,
        "adjusted_ci_high": 0.46,
    }
    c = told(compared, 0.31, 0.12, 0.50)
    assert (
        drift_line(c, row, style=ENGLISH)
        == "Drifted: dough temperature (0.53 °C apart, 0.9 standard deviations); adjusted "
        "for it 0.31 becomes 0.27 (0.08 to 0.46)."
    )
    place = row | {
        "label": "Oven place",
        "condition": "oven_place",
        "kind": "category",
        "difference": 0.25,
        "handled": "cannot be told apart",
    }
    assert (
        drift_line(c, place, style=ENGLISH)
        == "Drifted: oven place (25 % of the loaves would have to change to be alike); it "
        "cannot be told apart from the rest."
    )


def test_a_condition_that_undoes_the_verdict_is_said_with_the_answer():
    c = compare_formulas(in_turn(0.15))
    (undoes,) = c.undone.itertuples()
    assert (undoes.condition, undoes.adjusted_verdict) == (
        "bake_order",
        "no difference that matters",
    )
    assert not c.ci_low <= undoes.adjusted_difference <= c.ci_high
    assert "But they stood apart in baking order too: adjusted for it," in c.sentence
    assert "which is “no difference that matters”" in c.sentence
    assert "not alike in baking order either" in class_answer(c, ENGLISH)
    sure = class_sure(c, True, ENGLISH)
    assert sure.startswith("No: the two breads were not alike in baking order either")
    assert (
        class_next(c, True, ENGLISH)
        == "Bake again with baking order alike for both breads, or drawn by lot."
    )


def test_a_condition_that_leaves_the_verdict_is_not_held_against_it():
    c = compare_formulas(in_turn(0.0))
    assert c.undone.empty
    assert "stood apart" not in c.sentence
    assert "not alike" not in class_sure(c, True, ENGLISH) + class_next(c, True, ENGLISH)


def test_every_loaf_that_was_left_out_is_told_with_the_reason(compared):
    reasons = ["no specific_volume", "void: fell", "void: burnt", "no specific_volume"]
    gone = pd.DataFrame({"line": range(4), "loaf": list("abcd"), "reason": reasons})
    assert (
        left_out_line(replace(compared, left_out=gone))
        == "Left out: 2 loaves without specific volume and 2 loaves declared void."
    )
    assert left_out_line(replace(compared, left_out=gone[:0])) == ""


def test_where_every_loaf_is_a_mix_of_its_own_more_mixes_are_asked_for(compared):
    """A baker who was told of more loaves would cut them from one dough."""
    one_each = replace(
        compared,
        settle=Settle(
            goal="half width",
            power=None,
            matters=None,
            half_width=0.1,
            unit="loaf",
            sd_mix=0.1,
            sd_loaf=0.0,
            mixes_now=8,
            loaves_per_mix=1.0,
            mixes_needed=28,
            more_mixes=20,
            mixes_low=20,
            mixes_high=50,
            options=pd.DataFrame(),
        ),
    )
    assert (
        settle_lines(one_each, style=ENGLISH)[0]
        == "To make the likely range half as wide on average would take about 28 mixes of each "
        "formula with 1 loaf in each: 20 more than now."
    )


def test_loaves_in_a_mix_are_told_as_a_whole_number(compared):
    settle = Settle(
        goal="half width",
        power=None,
        matters=None,
        half_width=0.1,
        unit="mix",
        sd_mix=0.1,
        sd_loaf=0.1,
        mixes_now=4,
        loaves_per_mix=1.75,
        mixes_needed=8,
        more_mixes=4,
        mixes_low=5,
        mixes_high=18,
        options=pd.DataFrame(),
    )
    assert (
        "8 mixes of each formula with 2 loaves in each"
        in settle_lines(replace(compared, settle=settle), style=ENGLISH)[0]
    )


def test_formulas_that_are_alike_are_not_called_bigger(compared):
    alike = replace(compared, difference=0.0, ci_low=np.nan, ci_high=np.nan, why="no variation")
    assert answer(alike, style=ENGLISH).startswith(
        "Malted loaves and house loaves did not differ in specific volume (4 mixes each)."
    )


def level_bake(steps):
    """Four days of these formulas in two tins, each mix and loaf exactly as its formula and tin
    have it, but for what a day gives the mixes of B and C.
    """
    rows = [
        {
            "mix": f"{day}{formula}",
            "day": str(day),
            "formula": formula,
            "tin": tin,
            "loaf_ml": 1600 + steps[formula] + (8 if day % 2 else -8) * (formula != "A") + rise,
        }
        for day in range(1, 5)
        for formula in steps
        for tin, rise in (("open", 4), ("long", -4))
    ]
    return as_trial(pd.DataFrame(rows), measure="loaf_ml", control="A")


def test_every_pair_that_is_as_sure_as_the_first_is_named():
    one = compare_formulas(level_bake({"A": 0.0, "B": 40.0, "C": -40.0}))
    assert as_sure_line(one) == "Exactly as sure as that which is told first: “C” beside “A”."
    assert as_sure_line(one) in comparison_text(one, ENGLISH)
    other = compare_formulas(level_bake({"A": 0.0, "B": 40.0, "C": -41.0}))
    assert as_sure_line(other) == ""


def test_no_loaf_is_said_to_be_missing_where_none_is():
    """Every mix has the same loaves, without any scatter inside: the means are tested all the
    same.
    """
    c = compare_formulas(level_bake({"A": 0.0, "B": 40.0}))
    assert (c.way, c.why) == ("means", "edge")
    assert "since the scatter of the mixes cannot be told from that of their" in how_line(
        c, ENGLISH
    )


def test_a_german_noun_of_one_word_keeps_its_capital_inside_a_sentence(tmp_path):
    rows = [
        f"{day},{formula}{day},{formula},{6 + 2 * (formula == 'dunkel') + day % 3}"
        for day in (1, 2, 3)
        for formula in ("hell", "dunkel")
        for _ in range(2)
    ]
    table = "\n".join(["Backtag,Teig,Rezept,Krustenfarbe", *rows])
    (tmp_path / "loaves.csv").write_text(table, "utf-8")
    (tmp_path / "trial.toml").write_text('measure = "krustenfarbe"\n', "utf-8")
    trial = load_trial(tmp_path)
    c = compare_formulas(trial)
    assert c.sentence.startswith("Krustenfarbe was lower with hell than with dunkel")
    assert difference_axis(c) == "Difference in Krustenfarbe"
    assert factor_effects(trial).sentence.startswith("How surely Krustenfarbe was moved")


@pytest.mark.parametrize("seed", [91001, 91023, 91081])
def test_means_that_lie_otherwise_apart_than_the_difference_says_are_explained(seed):
    """Where not every day or oven had both formulas, a mean may be worked out within others than
    the difference.
    """
    c = compare_formulas(random_trial(seed))
    means = c.means.set_index("formula")["mean"]
    apart = abs(means[c.formula] - means[c.against])
    said = means_apart_line(c, ENGLISH)
    assert (said == "") == (f"{apart:.2f}" == f"{abs(c.difference):.2f}") == (seed == 91001)
    assert said == "" or said.startswith(
        f"The means lie {apart:.2f} apart and the difference is {abs(c.difference):.2f}: "
    )

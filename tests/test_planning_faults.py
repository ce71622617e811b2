"""Mistakes on the card: several are told in one run; what oven, tins and mixer cannot take costs
loaves, never mixes.
"""

import pytest
from fairloaf.analysis.answers_of_plans import planned
from fairloaf.trials import TrialError, plan_trial, weigh_out
from fairloaf.trials.reading.card_file import read_card

from .planned_kitchens import FORMULAS, card_text_of

TWO = 'formula = ["house", "malted"]'
FOUR_DAYS = "days = 4\nmixes_a_day = 2\nloaves_a_mix = 6"


def plan_of(rest, kitchen=FOUR_DAYS, factors=TWO):
    return plan_trial(read_card(card_text_of(factors, kitchen + rest)), seed=1)


def told(stopped):
    return [finding.code for finding in stopped.value.findings]


def write(folder, text):
    folder.mkdir()
    (folder / "trial.toml").write_text(text, "utf-8")
    return folder


def test_mistakes_of_every_kind_are_told_in_one_run(tmp_path):
    """A misspelt field, a wrong count, a factor of unknown unit, water colder than ice, a past
    trial without repeats, records in the way.
    """
    card = card_text_of(
        f"{TWO}\nroom = [1, 2]", "days = 0.5\nmixes_a_day = 2\nloaves_a_mix = 4", 'titel = "Malt"'
    )
    warm = "[dough]\npiece_g = 460\ntemp_c = 20\nflour_c = 28\nroom_c = 30\nfriction_c = 20\n"
    folder = write(tmp_path / "new", card + FORMULAS + warm)
    (folder / "loaves.csv").write_text("loaf,loaf_g\n107,400\n", "utf-8")
    past = write(tmp_path / "past", 'measure = "specific_volume"\n')
    rows = "".join(f"{i},{f},{i},400,{1600 + i}\n" for i, f in enumerate("aabb"))
    (past / "loaves.csv").write_text(f"loaf,formula,mix,loaf_g,loaf_ml\n{rows}", "utf-8")
    with pytest.raises(TrialError) as stopped:
        planned(folder, seed=1, like=past, writes=True)
    assert sorted(told(stopped)) == [
        "card-out-of-range",
        "card-unknown-key",
        "like-cannot-tell",
        "plan-made-per",
        "records-there",
        "water-too-cold",
    ]
    assert all(finding.fix for finding in stopped.value.findings)
    assert sorted(path.name for path in folder.iterdir()) == ["loaves.csv", "trial.toml"]


def test_mistakes_of_one_kitchen_are_told_in_one_run():
    """Too few mixes for the formulas, too few loads for the oven's settings, a dough too large."""
    factors = 'formula = ["a", "b", "c", "d"]\noven_c = [220, 240]'
    with pytest.raises(TrialError) as stopped:
        plan_of(
            "\n[dough]\npiece_g = 900\nmixer_g = [100, 500]",
            "days = 1\nmixes_a_day = 2\nloaves_a_mix = 2",
            factors,
        )
    assert told(stopped) == ["dough-too-large", "too-few-mixes", "too-few-mixes"]
    assert "4 mixes a day would just do, or 3 days" in stopped.value.findings[1].fix
    assert "loads_a_day = 2" in stopped.value.findings[2].fix


def test_what_is_missing_because_of_a_mistake_is_not_told_as_another(tmp_path):
    text = card_text_of("formula = 3", "days = 4\nmixes_a_day = 2")
    with pytest.raises(TrialError) as stopped:
        plan_trial(write(tmp_path / "new", text), seed=1)
    assert told(stopped) == ["card-wrong-kind", "plan-no-kitchen"]


@pytest.mark.parametrize(
    ("rest", "what", "takes"),
    [
        ("\nloads_a_day = 1\noven_places = 9", "the oven takes", 4),
        ("\noven_places = { front = 2, back = 3 }", "the oven takes", 5),
        ("\n[tins.long]\nvolume_ml = 1800\nowned = 6", "the tins take", 3),
        ("\n[dough]\npiece_g = 500\nmixer_g = [500, 2600]", "the mixer takes", 5),
        ("\n[dough]\npiece_g = 500\nwaste_pct = 4\nmixer_g = [500, 2600]", "the mixer takes", 4),
        (
            "\noven_places = 5\n[tins.long]\nvolume_ml = 1800\nowned = 6\n"
            "[dough]\npiece_g = 500\nmixer_g = [500, 1000]",
            "the mixer takes",
            2,
        ),
    ],
)
def test_what_takes_less_costs_loaves_and_never_mixes(rest, what, takes):
    plan = plan_of(rest)
    (finding,) = [f for f in plan.findings if f.code == "fewer-loaves"]
    assert finding.severity == "warning"
    assert (
        finding.message
        == f"The card has 6 loaves a mix, but {what} {takes}: each mix is cut into {takes}."
    )
    assert finding.fix
    assert len(plan.mixes) == 8
    assert set(plan.loaves.groupby("mix").size()) == {takes}


def test_a_dough_too_small_for_the_mixer_is_a_warning_once():
    plan = plan_of("\n[dough]\npiece_g = 500\nmixer_g = [4000, 8000]" + FORMULAS)
    (finding,) = plan.findings
    assert (finding.code, finding.severity) == ("dough-too-small", "warning")
    assert finding.message == "A dough has 3000 g; the mixer needs 4000 g."
    assert "Cut 8 loaves from a mix" in finding.fix
    assert set(plan.loaves.groupby("mix").size()) == {6}
    assert ("dough-too-small", "warning") in {
        (f.code, f.severity) for f in weigh_out(plan).findings
    }


def test_one_piece_too_large_for_the_mixer_stops_the_plan():
    with pytest.raises(TrialError) as stopped:
        plan_of("\n[dough]\npiece_g = 500\nmixer_g = [100, 450]")
    assert told(stopped) == ["dough-too-large"]
    assert "less than one loaf of every mix" in str(stopped.value)
    assert "Scale smaller pieces, or use a larger mixer." in str(stopped.value)


@pytest.mark.parametrize(
    ("line", "code", "fix"),
    [
        ('hands = "two"', "card-wrong-kind", "hands = 2"),
        ("closes = 15", "card-wrong-kind", 'closes = "07:00"'),
        ('opens = "25:00"', "card-out-of-range", 'opens = "07:00"'),
        ('closes = "49:00"', "card-out-of-range", 'closes = "07:00"'),
    ],
)
def test_the_fix_of_a_value_of_another_kind_is_a_line_that_is_taken(line, code, fix):
    with pytest.raises(TrialError) as stopped:
        plan_of(f"\n{line}")
    (finding,) = stopped.value.findings
    assert finding.code == code
    assert fix in finding.fix
    plan_of(f"\n{fix}")


def test_a_unit_of_a_factor_that_is_not_changed_is_told():
    with pytest.raises(TrialError) as stopped:
        plan_of('\n[made_per]\nformul = "mix"')
    (finding,) = stopped.value.findings
    assert (finding.code, finding.fix) == ("plan-made-per", "Did you mean 'formula'?")


def test_loads_that_want_more_loaves_of_a_mix_are_told_with_them():
    factors = f"{TWO}\noven_c = [210, 220, 230]"
    kitchen = "days = 3\nmixes_a_day = 2\nloaves_a_mix = 2\nloads_a_day = 1"
    with pytest.raises(TrialError) as stopped:
        plan_trial(read_card(card_text_of(factors, kitchen)), seed=1)
    (finding,) = stopped.value.findings
    assert "loads_a_day = 3  and  loaves_a_mix = 3  under [kitchen]" in finding.fix
    enough = kitchen.replace("loaves_a_mix = 2", "loaves_a_mix = 3").replace("= 1", "= 3")
    assert plan_trial(read_card(card_text_of(factors, enough)), seed=1).loads == (
        "mixes divided over loads"
    )

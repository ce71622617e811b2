"""Kitchens that no published case has: too few hands, past midnight, one mix a day, measures of
other sizes, centre points. What is named as a fix is made on the card and planned again.
"""

import re

import numpy as np
import pytest
from fairloaf.analysis import factor_effects, plan_power
from fairloaf.analysis.wording.plan_power import power_sentence
from fairloaf.analysis.wording.plans import weigh_lines
from fairloaf.trials import TrialError, bench_timetable, load_trial, plan_trial, weigh_out
from fairloaf.trials.reading.card_file import read_card
from fairloaf.trials.words.numbers import ENGLISH

from .planned_kitchens import FORMULAS, card_text_of

TWO = 'formula = ["house", "malted"]'
DAYS = "days = 4\nmixes_a_day = 2\nloaves_a_mix = 4"
MINUTES = """
[minutes]
weigh = 4
mix = 12
attend = 12
rest = [50, 60]
shape = 2
proof = 60
late = 2
fill = 2
bake = 30
empty = 2
cool = [60, 400]
measure = 3
"""
FEW_HANDS = card_text_of(
    TWO,
    'days = 2\nmixes_a_day = 6\nloaves_a_mix = 6\nhands = 1\nopens = "06:00"\ncloses = "12:30"'
    + MINUTES,
)


def timetable_of(text):
    return bench_timetable(plan_trial(read_card(text), seed=1))


def changed(text, words):
    """The card with a change made that was named as one that would do."""
    if named := re.search(r"hands = \d+", words):
        return re.sub(r"hands = \d+", named[0], text)
    if named := re.fullmatch(r"close at (\S+)", words):
        return re.sub(r'closes = "\S+"', f'closes = "{named[1]}"', text)
    if named := re.fullmatch(r"(\d+) mix(?:es)? a day", words):
        return re.sub(r"mixes_a_day = \d+", f"mixes_a_day = {named[1]}", text)
    if "more of rest" in words:
        return text.replace("rest = [50, 60]", "rest = [50, 90]")
    assert words.startswith("measuring on the next day")
    return text.replace("measure = 3\n", "")


def helping(text):
    """What is named as a single change that would do."""
    (found,) = timetable_of(text).conflicts
    assert (found.code, found.severity) == ("does-not-fit", "warning")
    would = re.search(r"Any one of these would do: (.*?)\.( These|$)", found.fix)
    return would[1].split("; ") if would else []


@pytest.mark.parametrize(
    ("closes", "hands"),
    [
        ("12:30", "a second pair of hands (hands = 2)"),
        ("11:20", "3 more pairs of hands (hands = 4)"),
    ],
)
def test_too_few_hands_are_named_and_every_change_that_is_named_fits(closes, hands):
    text = FEW_HANDS.replace("12:30", closes)
    named = helping(text)
    assert hands in named
    for words in named:
        assert timetable_of(changed(text, words)).fits, words


def test_fewer_mixes_are_no_help_where_they_make_no_trial():
    """Of two formulas at least two mixes a day: one a day would fit and could not be planned."""
    text = FEW_HANDS.replace("mixes_a_day = 6", "mixes_a_day = 2").replace("12:30", "10:00")
    named = helping(text)
    assert "1 mix a day" not in named
    assert named


def test_work_past_midnight_is_written_with_hours_that_run_on():
    night = FEW_HANDS.replace("06:00", "22:00").replace("12:30", "06:00")
    with pytest.raises(TrialError, match='closes = "30:00"'):
        read_card(night)
    later = timetable_of(night.replace('closes = "06:00"', 'closes = "36:00"'))
    assert later.fits
    assert later.ends > "24:00"


def test_without_an_opening_time_the_hours_are_said_to_count_from_the_start():
    table = timetable_of(card_text_of(TWO, DAYS + MINUTES))
    assert [note.code for note in table.notes] == ["no-opening"]
    assert table.steps["begins"].iloc[0] == "00:00"


def test_one_mix_a_day_is_told_the_trial_that_it_can_make():
    text = card_text_of(TWO, "days = 6\nmixes_a_day = 1\nloaves_a_mix = 4")
    with pytest.raises(TrialError) as stopped:
        plan_trial(read_card(text), seed=1)
    (found,) = stopped.value.findings
    assert found.code == "too-few-mixes"
    assert 'formula = "day"' in found.fix
    plan = plan_trial(read_card(text + '[made_per]\nformula = "day"\n'), seed=1)
    assert plan.mixes["formula"].value_counts().to_dict() == {"house": 3, "malted": 3}


@pytest.mark.parametrize(
    ("measure", "level"),
    [("height_mm", 118), ("bake_loss_pct", 12), ("loaf_ml", 1620), ("specific_volume", 4)],
)
def test_the_rough_scatter_is_of_the_measures_own_size(measure, level):
    """Three in a hundred of what a loaf usually has; it was 0.12 of whatever unit before."""
    text = card_text_of(TWO, DAYS).replace("specific_volume", measure)
    shows = plan_power(plan_trial(read_card(text), seed=1), trials=0)
    assert shows.source == "rough"
    assert shows.variation.mix == pytest.approx(0.03 * level)


def test_of_a_measure_of_unknown_size_all_is_told_in_percent_of_it():
    text = card_text_of(TWO, DAYS, "matters = 1").replace("specific_volume", "crust_mm")
    shows = plan_power(plan_trial(read_card(text), seed=1), trials=0)
    assert (shows.source, shows.matters, shows.days_needed) == ("rough share", None, None)
    said = power_sentence(shows, ENGLISH)
    assert "will show 10 % of its usual size four times in five. Nobody has said how much" in said
    known = plan_power(
        plan_trial(read_card(text + "[variation]\nmix = 0.3\nloaf = 0.3\n"), seed=1), trials=0
    )
    assert (known.source, known.matters) == ("card", 1)


def test_doughs_of_two_temperatures_have_waters_of_two():
    text = card_text_of("dough_temp_c = [24, 28]", DAYS, "")
    text += "[formulas.house]\nflour = 100\nwater = 60\n[dough]\npiece_g = 460\n"
    plan = plan_trial(
        read_card(text + "flour_c = 20\nroom_c = 21\nfriction_c = 14\ntap_c = 14\n"), seed=1
    )
    lines = weigh_lines(plan, weigh_out(plan), ENGLISH)
    for warm, water in (("24 °C", "water at 17 °C"), ("28 °C", "water at 29 °C")):
        at = next(i for i, line in enumerate(lines) if f"dough temperature {warm}" in line)
        assert lines[at + 3].strip() == water


def test_two_formulas_and_nobody_says_which_is_baked():
    text = card_text_of("yeast = [1, 2]", DAYS) + FORMULAS + "[dough]\npiece_g = 460\n"
    (found,) = weigh_out(plan_trial(read_card(text), seed=1)).findings
    assert "the card has the formulas house, malted, and does not say which one" in found.message


def test_a_formula_with_a_comma_is_shown_as_the_card_takes_it():
    text = card_text_of('formula = ["rye, dark", "white"]', DAYS)
    (found,) = weigh_out(plan_trial(read_card(text), seed=1)).findings
    key = re.search(r"\[formulas\.(.*?)\]  and", found.fix)[1]
    assert key in ('"rye, dark"', "white")
    read_card(f"{text}\n[formulas.{key}]\nflour = 100\n")


@pytest.mark.parametrize("seed", range(3))
def test_proof_times_of_divided_mixes_do_not_go_with_a_load(seed):
    """Three mixes of two loaves, each divided over two loads: in every mix one proof time a load,
    and on a day neither proof time all in one load.
    """
    factors = 'formula = ["a", "b", "c", "d"]\nproof_min = [45, 60]\noven_c = [210, 225]'
    kitchen = "days = 4\nmixes_a_day = 3\nloaves_a_mix = 2\nloads_a_day = 2"
    plan = plan_trial(read_card(card_text_of(factors, kitchen)), seed=seed)
    assert plan.loads == "mixes divided over loads"
    counts = plan.loaves.groupby(["oven_load", "proof_min"]).size()
    assert len(counts) == 16
    assert (plan.balance["spread"] <= plan.balance["promised"]).all()


@pytest.fixture(scope="module")
def with_centres(tmp_path_factory):
    """Three numbers at two levels on four days with a centre point each; only water moves it."""
    folder = tmp_path_factory.mktemp("centres")
    text = card_text_of(
        "water = [60, 66]\nyeast = [1, 2]\nsalt = [1.6, 2.2]",
        "days = 4\nmixes_a_day = 5\nloaves_a_mix = 3",
        "matters = 0.2",
    )
    (folder / "trial.toml").write_text(text, "utf-8")
    plan = plan_trial(folder, seed=3)
    plan.save(folder)
    rows = (folder / "loaves.csv").read_text("utf-8").splitlines()
    header = rows[0].split(",")
    water = plan.loaves.set_index("loaf")["water"]
    noise = np.random.default_rng(1).normal(0, 20, len(rows))
    written = [rows[0]]
    for i, row in enumerate(rows[1:]):
        cells = dict(zip(header, row.split(","), strict=True)) | {"loaf_g": "400"}
        cells["box_ml"] = "4000"
        volume = 1600 + 20 * (float(water[cells["loaf"]]) - 63) + noise[i]
        cells["seed_ml"] = f"{4000 - volume:.0f}"
        written.append(",".join(cells[name] for name in header))
    (folder / "loaves.csv").write_text("\n".join(written) + "\n", "utf-8")
    return plan, load_trial(folder)


def test_centre_points_are_as_planned(with_centres):
    plan, trial = with_centres
    assert plan.centre_points == 4
    assert not {"level-off-plan", "off-plan"} & {finding.code for finding in trial.findings}


def test_a_trial_with_centre_points_is_judged_by_its_straight_lines(with_centres):
    """Eight corners twice: the error of a difference of ends is that of 8 mixes against 8. They
    could "not say what moved it" before, as every factor's bend is the others' too.
    """
    plan, trial = with_centres
    f = factor_effects(trial)
    first = f.effects.iloc[0]
    assert first["factor"] == "water"
    assert (first["low_level"], first["high_level"]) == (60, 66)
    assert first["size"] == pytest.approx(0.30, abs=0.05)
    assert f.sentence.startswith("Water moved")
    assert not any("Never baked" in line for line in f.sentences)
    shows = plan_power(plan, trials=0).factors
    assert list(shows["judged"]) == ["t"] * 3
    # rough: mixes and loaves vary by 0.12; a difference of two means of 8 mixes of 3 loaves
    assert shows["standard_error"].iloc[0] == pytest.approx(
        np.sqrt(2 / 8 * (0.12**2 + 0.12**2 / 3)), rel=1e-6
    )

"""The report's own sentences, for every verdict and at the edges of what a trial can be."""

import pandas as pd
import pytest
from fairloaf.analysis.comparison.measuring_error import MeasuringError, Repeatability
from fairloaf.analysis.report import pictures
from fairloaf.analysis.report.sections import report_for
from fairloaf.analysis.report.summary import summarise
from fairloaf.analysis.wording import report as words
from fairloaf.analysis.wording.background import METHODS, method_lines, words_for_a_class
from fairloaf.trials import Trial, TrialCard, TrialError
from fairloaf.trials.printing.document import Answer, Points, Text
from fairloaf.trials.words.lists import counted
from fairloaf.trials.words.numbers import ENGLISH, NumberStyle

GERMAN = NumberStyle(",", "en-DE")
pytestmark = pytest.mark.usefixtures("unprinted")


def trial_of(mixes, matters=50.0, void=False):
    """Return a trial of loaf volumes: formula → one list of volumes a mix."""
    rows = [
        {
            "loaf": f"{formula}{i}{j}",
            "mix": f"{formula}{i}",
            "formula": formula,
            "loaf_ml": float(volume),
        }
        for formula, lists in mixes.items()
        for i, mix in enumerate(lists)
        for j, volume in enumerate(mix)
    ]
    loaves = pd.DataFrame(rows).assign(line=range(2, len(rows) + 2), void="burnt" if void else None)
    card = TrialCard(measure="loaf_ml", matters=matters, control="house")
    return Trial(name="t", card=card, loaves=loaves, factors=("formula",), sources={})


def said(trial, audience):
    """Return everything a report says in sentences."""
    return sentences(report_for(summarise(trial), audience))


def sentences(report):
    """Return the sentences of a report."""
    blocks = [b for s in report.sections for b in s.blocks]
    lines = [b.words for b in blocks if isinstance(b, Text)]
    lines += [f"{b.sentence} [{b.verdict}] {b.meaning}" for b in blocks if isinstance(b, Answer)]
    return " ".join(lines + [item for b in blocks if isinstance(b, Points) for item in b.items])


HOUSE = [[1600, 1606, 1611], [1604, 1599, 1610], [1607, 1612, 1601], [1598, 1605, 1603]]


def moved(by, spread=0.0):
    return [[v + by + spread * (-1) ** i for v in mix] for i, mix in enumerate(HOUSE)]


# The verdict, by the interval alone (Schuirmann 1987): the shift of malted loaves, what else
# varies, what matters.
CASES = {
    "matters": (150, 0.0, 50.0),
    "real, size unsure": (55, 12.0, 50.0),
    "real but small": (20, 0.0, 50.0),
    "no difference that matters": (1, 0.0, 50.0),
    "not settled": (20, 60.0, 50.0),
}
MEANINGS = {
    "matters": (
        "Even the smallest difference in the likely range is as large as the one you said matters."
    ),
    "real, size unsure": (
        "There is a difference. Whether it is as large as the one you said matters is still open."
    ),
    "real but small": "There is a difference, and it is smaller than the one you said matters.",
    "no difference that matters": (
        "If there is a difference at all, it is smaller than the one you said matters."
    ),
    "not settled": "That is not the same as equal.",
}


@pytest.mark.parametrize("sign", [1, -1], ids=["bigger", "smaller"])
@pytest.mark.parametrize("verdict", list(CASES))
def test_every_verdict_in_both_directions(monkeypatch, verdict, sign):
    by, spread, matters = CASES[verdict]
    for picture in ("main", "zones", "effects"):
        # only sentences are read here
        monkeypatch.setattr(pictures, picture, lambda *_, **__: [])
    summary = summarise(trial_of({"house": HOUSE, "malted": moved(sign * by, spread)}, matters))
    bakery, class_page = (
        sentences(report_for(summary, audience)) for audience in ("bakery", "class")
    )
    assert f"[{verdict}]" in bakery
    assert MEANINGS[verdict] in bakery
    assert ("bigger" if sign > 0 else "smaller") in bakery
    assert words.what_to_try(verdict) in class_page
    assert words.can_we_be_sure(verdict, 4) in class_page


def test_no_claim_beyond_the_verdict():
    assert "equal" not in MEANINGS["no difference that matters"]
    assert words.can_we_be_sure("not settled", 4).startswith("Not yet")
    assert (
        words.can_we_be_sure("real, size unsure", 4)
        == "Sure that there is a difference, not sure how large it is."
    )


def test_nobody_said_what_matters():
    bakery = said(trial_of({"house": HOUSE, "malted": moved(150)}, matters=None), "bakery")
    assert "[real; what matters is not said yet]" in bakery
    assert "Nobody wrote on the card what difference would matter" in bakery
    bakery = said(trial_of({"house": HOUSE, "malted": moved(0, 30.0)}, matters=None), "bakery")
    assert "do not show that there is none" in bakery


def test_one_mix_of_a_formula_is_never_sure():
    trial = trial_of({"house": [HOUSE[0] * 2], "malted": [[v + 300 for v in HOUSE[1]] * 2]})
    assert "[not settled]" in said(trial, "bakery")
    assert "a bread of which only one dough was made shows its loaves" in said(trial, "class")


def test_equal_formulas():
    assert "[no difference that matters]" in said(
        trial_of({"house": HOUSE, "malted": HOUSE}), "bakery"
    )


def test_loaves_that_do_not_vary_are_told_and_not_judged():
    trial = trial_of({"house": [[1600, 1600]] * 3, "malted": [[1600, 1600]] * 3})
    bakery = said(trial, "bakery")
    assert "do not vary at all" in bakery
    assert "[not settled]" in bakery


def test_everything_void_is_told_and_nothing_is_reported():
    with pytest.raises(TrialError) as stop:
        summarise(trial_of({"house": HOUSE, "malted": moved(100)}, void=True))
    assert stop.value.findings
    assert all(finding.fix for finding in stop.value.findings)


def test_no_scores_no_word_of_the_crumb():
    summary = summarise(trial_of({"house": HOUSE, "malted": moved(100)}))
    for audience in ("class", "bakery", "record"):
        report = report_for(summary, audience)
        assert "crumb" not in [section.id for section in report.sections], audience
        assert "formulas" not in [section.id for section in report.sections], audience


def measuring(limit):
    """Return a measuring error whose limit is this."""
    spread = Repeatability(sd=11.0, df=6, n_loaves=3, n_readings=9)
    return MeasuringError(
        measure="specific_volume",
        standard_uncertainty=limit / 2.77,
        limit=limit,
        readings_per_loaf=1.0,
        repeatability=spread,
    )


@pytest.mark.parametrize(
    ("difference", "word"),
    [(0.05, "smaller"), (-0.05, "smaller"), (0.2, "larger"), (-0.2, "larger")],
)
def test_a_difference_is_set_beside_the_measuring_error(difference, word):
    text = words.measuring_sentence(
        measuring(0.083), difference, "mL/g", "Specific volume", style=ENGLISH
    )
    assert text.startswith(f"The difference is {word} than the measuring error of a single loaf.")
    assert "3 loaves read again show that readings of one loaf scatter by 11 mL" in text
    assert "6 degrees of freedom" in text
    assert "up to 0.083 mL/g apart in specific volume, nineteen times in twenty" in text


def test_the_measuring_error_in_the_readers_numbers():
    assert "0,083 mL/g" in words.measuring_sentence(
        measuring(0.083), 0.2, "mL/g", "Specific volume", GERMAN
    )


def test_without_repeat_readings_the_measuring_error_is_unknown():
    assert words.measuring_sentence(None, 0.2, "mL/g", "Specific volume", style=ENGLISH).startswith(
        "How far two readings of one loaf lie apart is not known"
    )


def test_what_was_kept_names_five_kinds_of_condition():
    assert (
        words.what_was_kept(
            ["tin"], ["dough mass"], ["table"], ["baking order"], ["dough temperature"], 0.02
        )
        == "Kept the same: tin. Kept the same to within 2 %: dough mass. Compared within each:"
        " table. Varied, but about alike for the formulas: baking order. Not alike for the"
        " formulas: dough temperature."
    )
    assert words.what_was_kept([], [], [], [], [], 0.02) == "Nothing else was written down."


@pytest.mark.parametrize(("n", "text"), [(1, "1 loaf"), (2, "2 loaves"), (0, "0 loaves")])
def test_counts_agree_with_their_noun(n, text):
    assert counted(n, "loaf", "loaves") == text


def test_the_imprint_says_settings_and_fingerprints():
    lines = words.imprint("1.2", 0.95, "loaf_ml", 12.5, {"b.csv": "bb", "a.csv": "aa"}, GERMAN)
    assert "version" not in lines[0]
    assert "Fairloaf 1.2" in lines[0]
    assert "likely range 95 %" in lines[0]
    assert "difference that matters 12,5" in lines[0]
    assert lines[1:] == ("a.csv: SHA-256 aa", "b.csv: SHA-256 bb")
    assert (
        "no difference that matters was said"
        in words.imprint("1", 0.9, "loaf_ml", None, {}, style=ENGLISH)[0]
    )


def test_methods_are_those_that_were_used_and_each_has_a_source():
    assert method_lines(["verdict", "mix"]) == (METHODS["mix"], METHODS["verdict"])
    for code, line in METHODS.items():
        assert any(digit.isdigit() for digit in line) or "common practice, no source" in line, code


def test_a_class_reads_the_words_that_stand_on_its_page():
    assert words_for_a_class("specific_volume") == ("Mix", "Likely range", "Specific volume")
    assert words_for_a_class("height_mm") == ("Mix", "Likely range")

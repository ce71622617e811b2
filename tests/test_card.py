"""The card: what is read from it, and that every fault is told at once with its fix."""

import pytest
from fairloaf.trials import TrialCard, TrialError
from fairloaf.trials.card import Measure, ScoreScale, Tin, card_text, read_card

WHOLE = """
title    = "Malted flour against the house white"
question = "Does 2 % malted flour give a bigger loaf?"
measure  = "specific_volume"
matters  = 0.20
control  = "house"
proof_to = "time"
min_cool_min = 120
three_way = true

[factors]
formula   = ["house", "malted"]
tin       = ["open", " lidded "]
proof_min = [45, 60, 75.5]

[columns]
loaf_g = "Wt 2"

[measures.height_mm]
matters = 5
better = "higher"
low = 90
target = 120
high = 150

[tins.open]
volume_ml = 2100
[tins.lidded]
volume_ml = 2100
lid       = true

[scores]
scale      = [0, 10]
step       = 0.5
attributes = ["openness", "evenness"]
blind      = true
weights    = {openness = 60, evenness = 40}
[scores.words.openness]
1 = "dense"
10 = "open"

[formulas.malted]
flour = 98
malted_flour = 2
water = 60
"""


def faults(text):
    with pytest.raises(TrialError, match=r"trial\.toml") as refused:
        read_card(text)
    return {(f.code, f.message.removeprefix("trial.toml: "), f.fix) for f in refused.value.findings}


def test_everything_on_a_card_is_read():
    card = read_card(WHOLE)
    assert (card.title, card.measure, card.matters, card.control, card.proof_to) == (
        "Malted flour against the house white", "specific_volume", 0.2, "house", "time")
    assert card.factors == {
        "formula": ("house", "malted"), "tin": ("open", "lidded"), "proof_min": (45.0, 60.0, 75.5)}
    assert card.columns == {"loaf_g": "Wt 2"}
    assert card.tins == {"open": Tin(volume_ml=2100), "lidded": Tin(volume_ml=2100, lid=True)}
    assert card.measures == {"height_mm": Measure(matters=5, better="higher", low=90, target=120, high=150)}
    assert card.scores == ScoreScale(low=0, high=10, step=0.5, attributes=("openness", "evenness"), blind=True,
                                     words={"openness": {"1": "dense", "10": "open"}},
                                     weights={"openness": 60, "evenness": 40})
    assert card.formulas == {"malted": {"flour": 98, "malted_flour": 2, "water": 60}}
    assert card.three_way
    assert card.min_cool_min == 120


def test_an_empty_card_says_nothing():
    assert read_card("") == TrialCard()
    assert TrialCard().matters is None


def test_what_matters_is_per_measure():
    card = read_card(WHOLE)
    assert card.matters_for("specific_volume") == 0.2
    assert card.matters_for("height_mm") == 5
    assert card.matters_for("loaf_ml") is None


@pytest.mark.parametrize(("text", "code", "message", "fix"), [
    ("maters = 0.2", "card-unknown-key", "the card has no field 'maters'.", "Did you mean 'matters'?"),
    ("measure = 4", "card-wrong-kind", "measure is 4, not a text.", 'Write  measure = "…"'),
    ('title = " "', "card-wrong-kind", "title is ' ', not a text.", 'Write  title = "…"'),
    ('measure = "m"\nmatters = "0.2"', "card-wrong-kind", "matters is '0.2', not a number.",
     "Write a number with a decimal point and no unit, such as  matters = 0.2"),
    ('measure = "m"\nmatters = 0', "card-out-of-range", "matters is 0.", "It must be above 0."),
    ('measure = "m"\nmatters = inf', "card-wrong-kind", "matters is inf, not a number.",
     "Write a number with a decimal point and no unit, such as  matters = 0.2"),
    ("min_cool_min = -1", "card-out-of-range", "min_cool_min is -1.", "It must be 0 or more."),
    ('proof_to = "size"', "card-wrong-kind", "proof_to is 'size'.", "Write one of: 'time', 'height'."),
    ("three_way = 1", "card-wrong-kind", "three_way is 1.", "Write  true  or  false, without quotes."),
    ("factors = 3", "card-wrong-kind", "factors is 3, not a section.", "Start it with a line  [factors]"),
    ('[factors]\ntin = "open"', "card-wrong-kind", "[factors] tin is 'open', not a list of levels.",
     'Write  tin = ["first", "second"]  or  tin = [45, 60]'),
    ('[factors]\ntin = ["open", 2]', "card-wrong-kind", "[factors] tin mixes texts and numbers: ['open', 2].",
     "Write either numbers or texts in double quotes."),
    ('[factors]\ntin = ["open", "open "]', "card-level-twice",
     "[factors] tin names a level twice: ['open', 'open '].", "Name each level once."),
    ('control = "x"\n[factors]\nformula = ["a", "b"]', "card-control",
     "control is 'x', which is not a level of formula.", "Write one of: a, b."),
    ("matters = 0.2", "card-matters", "matters is given, but not which measure it is for.",
     'Add  measure = "specific_volume"  or give matters in  [measures.…]'),
    ("[scores]\nscale = [10, 1]", "card-wrong-kind", "[scores] scale is [10, 1].",
     "Write the lowest and the highest score, such as  scale = [1, 10]"),
    ("[scores]\nweights = {a = 60, b = 50}", "card-weights", "[scores.weights] add up to 110.",
     "Make the weights add up to 100."),
    ("[scores]\nattributes = [1]", "card-wrong-kind", "[scores] attributes is [1], not a list of names.",
     'Write  attributes = ["openness", "softness"]'),
    ("[formulas.house]\nflour = 90\nwater = 60", "card-formula-flour",
     "the flours of [formulas.house] add up to 90, not 100.",
     "Write baker's percentages; a flour's name holds that word, such as  rye_flour = 20"),
    ("[formulas.house]\nwater = 60", "card-formula-flour", "the flours of [formulas.house] add up to 0, not 100.",
     "Write baker's percentages; a flour's name holds that word, such as  rye_flour = 20"),
    ("[tins.open]\nvolume = 2100", "card-unknown-key", "[tins.open] has no field 'volume'.",
     "Did you mean 'volume_ml'?"),
])
def test_a_fault_is_told_with_its_fix(text, code, message, fix):
    assert faults(text) == {(code, message, fix)}


def test_all_faults_are_told_at_once():
    text = ('title = 1\nproof_to = "size"\ncontrol = 2\n[tins.open]\nlid = "yes"\nvolume_ml = -1\n'
            "[measures.x]\nbetter = 1")
    assert len(faults(text)) == 6


@pytest.mark.parametrize("text", [
    "measure = specific_volume", "title = 'a", "[a\n", "x = 1\nx = 2\n", "matters = 0,2",
])
def test_what_is_no_toml_is_told_with_its_place(text):
    with pytest.raises(TrialError, match=r"trial\.toml is not a TOML file: .*(line \d|end of document)"):
        read_card(text)


def test_a_card_in_another_encoding_is_told_with_its_line():
    with pytest.raises(TrialError, match=r"trial\.toml, line 2: the card is not written in UTF-8\."):
        card_text('title = "a"\nquestion = "für"'.encode("cp1252"))
    assert card_text(b"\xef\xbb\xbftitle = 1") == "title = 1"


def test_a_sentence_with_many_points_is_no_long_key():
    assert read_card('question = "Is it bigger... or not? See a. b. c. for more."').question.startswith("Is it")

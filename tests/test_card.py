"""The card: what is read from it, and that every fault is told at once with its fix."""

import pytest
from fairloaf.trials import TrialCard, TrialError
from fairloaf.trials.card import Measure, ScoreScale, Tin
from fairloaf.trials.kitchen import Dough, Kitchen, Minutes, Preferment, Soaker, Variation
from fairloaf.trials.reading.card_file import card_text, read_card

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
too_low = 90
best = 120
too_high = 150

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
        "Malted flour against the house white",
        "specific_volume",
        0.2,
        "house",
        "time",
    )
    assert card.factors == {
        "formula": ("house", "malted"),
        "tin": ("open", "lidded"),
        "proof_min": (45.0, 60.0, 75.5),
    }
    assert card.columns == {"loaf_g": "Wt 2"}
    assert card.tins == {"open": Tin(volume_ml=2100), "lidded": Tin(volume_ml=2100, lid=True)}
    assert card.measures == {
        "height_mm": Measure(matters=5, better="higher", too_low=90, best=120, too_high=150)
    }
    assert card.scores == ScoreScale(
        low=0,
        high=10,
        step=0.5,
        attributes=("openness", "evenness"),
        blind=True,
        words={"openness": {"1": "dense", "10": "open"}},
        weights={"openness": 60, "evenness": 40},
    )
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


@pytest.mark.parametrize(
    ("text", "code", "message", "fix"),
    [
        (
            "maters = 0.2",
            "card-unknown-key",
            "the card has no field 'maters'.",
            "Did you mean 'matters'?",
        ),
        ("measure = 4", "card-wrong-kind", "measure is 4, not a text.", 'Write  measure = "…"'),
        ('title = " "', "card-wrong-kind", "title is ' ', not a text.", 'Write  title = "…"'),
        (
            'measure = "m"\nmatters = "0.2"',
            "card-wrong-kind",
            "matters is '0.2', not a number.",
            "Write a number with a decimal point and no unit, such as  matters = 0.2",
        ),
        *(
            (
                f"[measures.height_mm]\n{old} = 90",
                "card-unknown-key",
                f"[measures.height_mm] has no field '{old}'.",
                f"Did you mean '{new}'?",
            )
            for old, new in (("low", "too_low"), ("target", "best"), ("high", "too_high"))
        ),
        ('measure = "m"\nmatters = 0', "card-out-of-range", "matters is 0.", "It must be above 0."),
        (
            'measure = "m"\nmatters = inf',
            "card-wrong-kind",
            "matters is inf, not a number.",
            "Write a number with a decimal point and no unit, such as  matters = 0.2",
        ),
        ("min_cool_min = -1", "card-out-of-range", "min_cool_min is -1.", "It must be 0 or more."),
        (
            'proof_to = "size"',
            "card-wrong-kind",
            "proof_to is 'size'.",
            "Write one of: 'time', 'height'.",
        ),
        (
            "three_way = 1",
            "card-wrong-kind",
            "three_way is 1.",
            "Write  true  or  false, without quotes.",
        ),
        (
            "factors = 3",
            "card-wrong-kind",
            "factors is 3, not a section.",
            "Start it with a line  [factors]",
        ),
        (
            '[factors]\ntin = "open"',
            "card-wrong-kind",
            "[factors] tin is 'open', not a list of levels.",
            'Write  tin = ["first", "second"]  or  tin = [45, 60]',
        ),
        (
            '[factors]\ntin = ["open", 2]',
            "card-wrong-kind",
            "[factors] tin mixes texts and numbers: ['open', 2].",
            "Write either numbers or texts in double quotes.",
        ),
        (
            '[factors]\ntin = ["open", "open "]',
            "card-level-twice",
            "[factors] tin names a level twice: ['open', 'open '].",
            "Name each level once.",
        ),
        (
            'control = "x"\n[factors]\nformula = ["a", "b"]',
            "card-control",
            "control is 'x', which is not a level of formula.",
            "Write one of: a, b.",
        ),
        (
            "matters = 0.2",
            "card-matters",
            "matters is given, but not which measure it is for.",
            'Add  measure = "specific_volume"  or give matters in  [measures.…]',
        ),
        (
            "[scores]\nscale = [10, 1]",
            "card-wrong-kind",
            "[scores] scale is [10, 1].",
            "Write the lowest and the highest score, such as  scale = [1, 10]",
        ),
        (
            "[scores]\nweights = {a = 60, b = 50}",
            "card-weights",
            "[scores.weights] add up to 110.",
            "Make the weights add up to 100.",
        ),
        (
            "[scores]\nattributes = [1]",
            "card-wrong-kind",
            "[scores] attributes is [1], not a list of names.",
            'Write  attributes = ["openness", "softness"]',
        ),
        (
            "[formulas.house]\nflour = 90\nwater = 60",
            "card-formula-flour",
            "the flours of [formulas.house] add up to 90, not 100.",
            "Write baker's percentages; a flour's name holds that word, such as  rye_flour = 20",
        ),
        (
            "[formulas.house]\nwater = 60",
            "card-formula-flour",
            "the flours of [formulas.house] add up to 0, not 100.",
            "Write baker's percentages; a flour's name holds that word, such as  rye_flour = 20",
        ),
        (
            "[tins.open]\nvolume = 2100",
            "card-unknown-key",
            "[tins.open] has no field 'volume'.",
            "Did you mean 'volume_ml'?",
        ),
    ],
)
def test_a_fault_is_told_with_its_fix(text, code, message, fix):
    assert faults(text) == {(code, message, fix)}


def test_all_faults_are_told_at_once():
    text = (
        'title = 1\nproof_to = "size"\ncontrol = 2\n[tins.open]\nlid = "yes"\nvolume_ml = -1\n'
        "[measures.x]\nbetter = 1"
    )
    assert len(faults(text)) == 6


@pytest.mark.parametrize(
    "text", ["measure = specific_volume", "title = 'a", "[a\n", "x = 1\nx = 2\n", "matters = 0,2"]
)
def test_what_is_no_toml_is_told_with_its_place(text):
    with pytest.raises(
        TrialError, match=r"trial\.toml is not a TOML file: .*(line \d|end of document)"
    ):
        read_card(text)


def test_a_card_in_another_encoding_is_told_with_its_line():
    with pytest.raises(
        TrialError, match=r"trial\.toml, line 2: the card is not written in UTF-8\."
    ):
        card_text('title = "a"\nquestion = "für"'.encode("cp1252"))
    assert card_text(b"\xef\xbb\xbftitle = 1") == "title = 1"


def test_a_sentence_with_many_points_is_no_long_key():
    assert read_card(
        'question = "Is it bigger... or not? See a. b. c. for more."'
    ).question.startswith("Is it")


KITCHEN = """
[kitchen]
days = 4
mixes_a_day = 2
loaves_a_mix = 6
loads_a_day = 2
opens = "07:00"
closes = "15:30"
[kitchen.oven_places]
front = 4
back = 6
[made_per]
proof_min = "loaf"
oven_c = "load"
[minutes]
weigh = 4
rest = [50, 60]
shape = 1.5
[variation]
mix = 0.12
loaf = 0
[dough]
piece_g = 460
waste_pct = 2
friction_c = -1
mixer_g = [400, 5000]
[tins.open]
owned = 12
dough_g = 450
[preferments.sour]
takes = 15
hydration = 100
flour = "rye_flour"
[soakers.seeds]
holds = ["linseed"]
water = 8
"""


def test_what_planning_needs_is_read():
    card = read_card(KITCHEN)
    assert card.kitchen == Kitchen(
        days=4,
        mixes_a_day=2,
        loaves_a_mix=6,
        loads_a_day=2,
        oven_places=10,
        zones={"front": 4, "back": 6},
        opens=420,
        closes=930,
    )
    assert (card.kitchen.bakers, card.kitchen.hands) == (1, 1)
    assert card.made_per == {"proof_min": "loaf", "oven_c": "load"}
    assert card.minutes == Minutes(weigh=4, rest=(50, 60), shape=1.5)
    assert card.variation == Variation(mix=0.12, loaf=0)
    assert card.dough == Dough(piece_g=460, waste_pct=2, friction_c=-1, mixer_g=(400, 5000))
    assert card.tins == {"open": Tin(owned=12, dough_g=450)}
    assert card.preferments == {"sour": Preferment(takes=15, hydration=100, flour="rye_flour")}
    assert card.soakers == {"seeds": Soaker(holds=("linseed",), water=8)}
    assert read_card(
        "[kitchen]\ndays = 1\nmixes_a_day = 2\nloaves_a_mix = 1\noven_places = 16"
    ).kitchen == Kitchen(days=1, mixes_a_day=2, loaves_a_mix=1, oven_places=16)


@pytest.mark.parametrize(
    ("good", "bad", "code", "message", "fix"),
    [
        (
            "days = 4\n",
            "",
            "plan-no-kitchen",
            "[kitchen] does not say days.",
            "Copy below [kitchen], and put your own numbers in:\ndays = 4",
        ),
        (
            "days = 4",
            "days = 2.5",
            "card-out-of-range",
            "[kitchen] days is 2.5.",
            "It is a count: a whole number from 1 to 1000.",
        ),
        (
            "back = 6",
            "back = 0",
            "card-out-of-range",
            "[kitchen.oven_places] back is 0.",
            "It is a count: a whole number from 1 to 1000.",
        ),
        (
            "loads_a_day = 2",
            "loads = 2",
            "card-unknown-key",
            "[kitchen] has no field 'loads'.",
            "Did you mean 'loads_a_day'?",
        ),
        (
            'closes = "15:30"',
            'closes = "06:30"',
            "card-out-of-range",
            "[kitchen] closes at 06:30, before it opens at 07:00.",
            'Write the times of one day, such as  opens = "07:00"  and  closes = "15:30" ; or,'
            " where work goes on past midnight, let the hours run on:"
            '  closes = "30:30"',
        ),
        (
            'opens = "07:00"',
            'opens = "7 am"',
            "card-out-of-range",
            "[kitchen] opens is '7 am', no time of day.",
            'Write hours and minutes, such as  opens = "07:00"',
        ),
        (
            "rest = [50, 60]",
            "rest = [60, 50]",
            "card-out-of-range",
            "[minutes] rest is [60, 50].",
            "Write the least and the most, such as  rest = [50, 60]; the least comes first.",
        ),
        (
            "rest = [50, 60]",
            "rest = 50",
            "card-wrong-kind",
            "[minutes] rest is 50, not two numbers.",
            "Write the least and the most, such as  rest = [50, 60]",
        ),
        (
            'oven_c = "load"',
            'oven_c = "oven"',
            "card-wrong-kind",
            "[made_per] oven_c is 'oven'.",
            "Write one of: 'day', 'load', 'mix', 'loaf'.",
        ),
        (
            "waste_pct = 2",
            "waste_pct = 100",
            "card-out-of-range",
            "[dough] waste_pct is 100.",
            "It must be below 100.",
        ),
        (
            "takes = 15",
            "takes = 115",
            "card-out-of-range",
            "[preferments.sour] takes is 115.",
            "It is a percentage of all flour: at most 100.",
        ),
        (
            "takes = 15\n",
            "",
            "card-incomplete",
            "[preferments.sour] does not say takes.",
            "Write  takes = 15  and  hydration = 100",
        ),
        (
            'holds = ["linseed"]',
            'holds = "linseed"',
            "card-wrong-kind",
            "[soakers.seeds] holds is 'linseed', not a list of ingredients.",
            'Write  holds = ["linseed", "sunflower_seed"]',
        ),
    ],
)
def test_a_fault_in_the_kitchen_is_told_with_its_fix(good, bad, code, message, fix):
    assert good in KITCHEN
    assert faults(KITCHEN.replace(good, bad)) == {(code, message, fix)}

"""Headers as people write them, and the vocabulary that they are read with."""

import pytest
from fairloaf.trials.columns import BY_NAME, DERIVED, READINGS, RECORDED, SCORES, label, unit
from fairloaf.trials.reading.card_file import read_card
from fairloaf.trials.reading.headers import name_columns, read_header, tidy_name, words
from fairloaf.trials.reading.units import find_unit, quantity_of

VOCABULARIES = {"loaves": (*RECORDED, *DERIVED), "scores": SCORES, "readings": READINGS}


@pytest.mark.parametrize(
    ("text", "name", "symbol"),
    [
        ("loaf", "loaf", None),
        ("Loaf no.", "loaf", None),
        ("LOAF #", "loaf", None),
        ("Loaf ID", "loaf", None),
        ("Sample code", "loaf", None),
        ("#", "loaf", None),
        ("Mix", "mix", None),
        ("Dough", "mix", None),
        ("dough batch", "mix", None),
        ("Batch No", "mix", None),
        ("Bake-Day", "day", None),
        ("Date", "day", None),
        ("Recipe", "formula", None),
        ("Treatment", "formula", None),
        ("Pan type", "tin", None),
        ("Mould", "tin", None),
        ("Loaf vol. (cm3)", "loaf_ml", "mL"),
        ("Volume of the loaf / L", "loaf_ml", "L"),
        ("Loaf (ml)", "loaf_ml", "mL"),
        ("LoafVolume", "loaf_ml", None),
        ("loaf volume ml", "loaf_ml", "mL"),
        ("Loaf_Volume [cm³]", "loaf_ml", "mL"),
        ("Baked (g)", "loaf_g", "g"),
        ("After baking (g)", "loaf_g", "g"),
        ("Before baking, g", "dough_g", "g"),
        ("Weight after baking / g", "loaf_g", "g"),
        ("Weight after baking, kg", "loaf_g", "kg"),
        ("Baked weight in oz", "loaf_g", "oz"),
        ("Loaf (g)", "loaf_g", "g"),
        ("loaf wt (g)", "loaf_g", "g"),
        ("dough (g)", "dough_g", "g"),
        ("Scaling weight (lb)", "dough_g", "lb"),
        ("mass in", "dough_g", None),
        ("proof (h)", "proof_min", "h"),
        ("Proof h:mm", "proof_min", "h:mm"),
        ("Final proof time", "proof_min", None),
        ("Proving time, minutes", "proof_min", "min"),
        ("Dough temp (°F)", "dough_temp_c", "°F"),
        ("dough deg C", "dough_temp_c", "°C"),
        ("Height (max) cm", "height_mm", "cm"),
        ("Loaf height in mm", "height_mm", "mm"),
        ("cooled for (h)", "cool_min", "h"),
        ("Empty box (cl)", "box_ml", "cL"),
        ("seed left over", "seed_ml", None),
        ("Oven position", "oven_place", None),
        ("Left out", "void", None),
        ("Remarks:", "note", None),
        ("Specific volume (mL/g)", "specific_volume", "mL/g"),
        ("Baking loss %", "bake_loss_pct", None),
        ("Crumb: even ness", "crumb_even_ness", None),
        ("crumb softness", "crumb_softness", None),
    ],
)
def test_headers_as_people_write_them(text, name, symbol):
    header = read_header(text, (*RECORDED, *DERIVED))
    assert header.name == name
    assert (header.unit.symbol if header.unit else None) == symbol


@pytest.mark.parametrize(
    "text",
    [
        "Weight",
        "Oven temp",
        "Crust colour",
        "oven plate",
        "time",
        "proof temperature",
        "volunteers",
        "crumb temp (°C)",
        "loaf length (cm)",
        "water",
        "1",
        "",
    ],
)
def test_headers_that_mean_nothing_certain_are_not_taken_for_a_column(text):
    assert read_header(text, (*RECORDED, *DERIVED)) is None


@pytest.mark.parametrize("vocabulary", VOCABULARIES.values(), ids=VOCABULARIES)
def test_no_spelling_belongs_to_two_columns_of_one_quantity(vocabulary):
    owners = {}
    for column in vocabulary:
        for spelling in {words(s) for s in (column.name, column.label, *column.spellings)}:
            key = (spelling, quantity_of(column.unit) if column.kind == "number" else None)
            assert owners.setdefault(key, column.name) == column.name, spelling


@pytest.mark.parametrize("vocabulary", VOCABULARIES.values(), ids=VOCABULARIES)
def test_a_column_is_known_by_its_own_name_and_every_spelling(vocabulary):
    for column in vocabulary:
        assert read_header(column.name, vocabulary).name == column.name
        for spelling in (column.label, *column.spellings):
            written = f"{spelling} ({column.unit})" if quantity_of(column.unit) else spelling
            assert read_header(written, vocabulary).name == column.name, spelling


def test_the_unit_in_a_canonical_name_is_the_columns_own():
    ends = {"g": "g", "ml": "mL", "mm": "mm", "min": "min", "c": "°C"}
    for column in RECORDED:
        end = column.name.rsplit("_", 1)[-1]
        if end in ends:
            assert column.unit == ends[end]
            assert find_unit(column.unit).is_canonical


def named(*texts, units=(), **mapped):
    return name_columns(texts, units, RECORDED, mapped, file="june.csv", line=3)


def test_two_headers_that_mean_the_same_are_an_error_that_names_both():
    naming = named("Loaf", "Recipe", "Treatment")
    assert [header.name for header in naming.headers] == ["loaf", "formula", "treatment_2"]
    [finding] = naming.findings
    where = (finding.code, finding.severity, finding.rows, finding.file)
    assert where == ("headers-same", "error", (3,), "june.csv")
    assert finding.message == "The headers 'Recipe' and 'Treatment' both mean formula."
    assert finding.fix == "Rename one, or choose in the card under [columns]:  formula = 'Recipe'"


def test_what_the_card_says_comes_first():
    naming = named(
        "Loaf", "Recipe", "Treatment", "Wt 2 (kg)", formula="treatment", loaf_g="wt 2  (KG)"
    )
    assert [header.name for header in naming.headers] == ["loaf", "recipe_2", "formula", "loaf_g"]
    assert naming.headers[3].unit.symbol == "kg"
    assert not naming.findings
    assert naming.assumptions == (
        "The column 'Recipe' is kept as recipe_2, because the card takes formula from 'Treatment'.",
    )


def test_one_column_may_have_two_meanings_when_the_card_says_so():
    naming = named("Loaf", "Recipe", mix="loaf")
    assert [(header.name, header.place) for header in naming.headers] == [
        ("mix", 0),
        ("loaf", 0),
        ("formula", 1),
    ]


def test_a_misspelt_header_is_read_and_told():
    naming = named("loaf", "Loaf volmue (cl)")
    assert naming.headers[1].name == "loaf_ml"
    assert naming.headers[1].unit.symbol == "cL"
    assert [(f.code, f.severity) for f in naming.findings] == [("header-near", "note")]


def test_a_header_that_may_mean_two_columns_is_left_and_told():
    naming = named("loaf", "Weight (g)")
    assert naming.headers[1].name == "weight_g"
    assert naming.findings[0].message == "The header 'Weight (g)' may mean dough_g or loaf_g."


def test_baked_is_a_mass_with_its_unit_and_may_be_a_day_without():
    assert named("loaf", "Baked (kg)").headers[1].name == "loaf_g"
    bare = named("loaf", "Baked")
    assert (bare.headers[1].name, bare.findings[0].message) == (
        "baked",
        "The header 'Baked' may mean loaf_g or day.",
    )


def test_a_unit_of_the_wrong_kind_is_an_error():
    [finding] = named("loaf", "Loaf volume (g)").findings
    assert (
        finding.message
        == "'g' with the header 'Loaf volume (g)' is no unit of loaf volume that can be converted."
    )
    assert finding.fix == "Write the unit in the header, such as  Loaf volume (mL)"


def test_a_row_of_units_belongs_to_the_headers():
    naming = named("loaf", "dough", units=("", "kg"))
    assert [(h.text, h.name, h.unit and h.unit.symbol) for h in naming.headers] == [
        ("loaf", "loaf", None),
        ("dough", "dough_g", "kg"),
    ]


def test_a_column_without_header_and_one_called_line_have_names_of_their_own():
    assert [header.name for header in named("loaf", "", "line").headers] == [
        "loaf",
        "column_2",
        "line_in_file",
    ]


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("Crust colour (1-5)", "crust_colour_1_5"),
        ("Größe", "größe"),
        ("  A  b ", "a_b"),
        ("60 %", "60_pct"),
        ("!", ""),
    ],
)
def test_other_columns_are_kept_under_a_tidy_name(text, name):
    assert tidy_name(text) == name


def test_labels_and_units_come_from_the_card_first():
    card = read_card(
        '[measures.angle]\nlabel = "Breaking angle"\nunit = "°"\n[measures.loaf_ml]\nlabel ='
        ' "Size"\n'
    )
    assert (label("angle", card), unit("angle", card)) == ("Breaking angle", "°")
    assert (label("loaf_ml", card), unit("loaf_ml", card)) == ("Size", "mL")
    assert (label("crumb_even_ness"), unit("crumb_even_ness")) == ("Crumb even ness", "points")
    assert (label("flour_lot"), unit("flour_lot")) == ("Flour lot", "")
    assert (label("specific_volume"), unit("specific_volume")) == ("Specific volume", "mL/g")


def test_plausible_ranges_hold_an_ordinary_loaf():
    ordinary = {
        "dough_g": 450,
        "loaf_g": 400,
        "loaf_ml": 1600,
        "proof_min": 60,
        "specific_volume": 4,
        "bake_loss_pct": 11,
        "dough_temp_c": 25,
        "height_mm": 120,
        "cool_min": 120,
        "air_fraction": 0.8,
    }
    for name, value in ordinary.items():
        assert BY_NAME[name].low < value < BY_NAME[name].high


@pytest.mark.parametrize("text", ["Dough (g#)", "Dough (#g)", "Loaf (ml?)", "Height [mm!]"])
def test_a_header_has_the_name_of_a_column_only_where_it_is_that_column(text):
    (header,) = named(text).headers
    assert (header.name in {column.name for column in RECORDED}) == (header.column is not None)

"""Every check speaks when one thing is spoilt in a good trial, alone, in words that are read here
to the end.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pytest
from fairloaf.trials.card import ScoreScale
from fairloaf.trials.checks import CHECKS

from .good_trial import Records, good_records
from .simulated_bakes import TINS

Spoil = Callable[[Records], None]
FILES = {"loaves": "loaves.csv", "scores": "scores.csv", "readings": "readings.csv"}


def cell(table: str, row: object, column: str, value: object) -> Spoil:
    """Write a value into one cell or a few."""

    def spoil(records: Records) -> None:
        frame = getattr(records, table)
        if value is None or isinstance(value, str):
            frame[column] = frame[column].astype(object)
        frame.loc[row, column] = value

    return spoil


def unread(table: str, row: int, column: str, text: str) -> Spoil:
    """Leave a text that is no number, as reading records it."""

    def spoil(records: Records) -> None:
        getattr(records, table).loc[row, column] = np.nan
        records.unreadable.append((FILES[table], row + 2, column, text))

    return spoil


def card(**changes: object) -> Spoil:
    """Write something else on the card."""
    return lambda records: records.on_card(**changes)


def both(*spoils: Spoil) -> Spoil:
    """Do one after the other."""
    return lambda records: [spoil(records) for spoil in spoils] and None


def by_displacement(column: str, row: int, value: float) -> Spoil:
    """Record the box and its seed as well, and spoil one of the two."""

    def spoil(records: Records) -> None:
        records.loaves["box_ml"] = 5000.0
        records.loaves["seed_ml"] = 5000.0 - records.loaves["loaf_ml"]
        records.loaves.loc[row, column] = value

    return spoil


def mixes_numbered_anew_every_day(records: Records) -> None:
    records.loaves["mix"] = records.loaves["formula"].map({"house": "A", "malted": "B"})


def each_a_mix(called: Callable[[int, str], str]) -> Spoil:
    """Return what gives every loaf a mix of its own, called by its place and its mix."""

    def spoil(records: Records) -> None:
        mixes = records.loaves["mix"]
        records.loaves["mix"] = [called(i, mix) for i, mix in enumerate(mixes)]

    return spoil


def mass_and_volume_exchanged(records: Records) -> None:
    records.loaves.loc[9, ["loaf_g", "loaf_ml"]] = records.loaves.loc[
        9, ["loaf_ml", "loaf_g"]
    ].to_numpy()


def row_copied(records: Records) -> None:
    values = ["dough_g", "loaf_g", "loaf_ml", "height_mm", "crumb_even", "crumb_open"]
    records.loaves.loc[9, values] = records.loaves.loc[8, values]


def column_copied(records: Records) -> None:
    records.loaves["crumb_open"] = records.loaves["crumb_even"]


def order_through_the_days(records: Records) -> None:
    records.loaves["bake_order"] = np.arange(1.0, 33.0)
    records.loaves.loc[9, "bake_order"] = 31.0
    records.loaves.loc[30, "bake_order"] = 33.0


def scores_pasted(records: Records) -> None:
    records.scores.loc[16:23, "score"] = records.scores.loc[0:7, "score"].to_numpy()


def one_formula_for_dot(records: Records) -> None:
    house = records.loaves.loc[records.loaves["formula"] == "house", "loaf"]
    kept = (records.scores["assessor"] != "Dot") | records.scores["loaf"].isin(house)
    records.scores = records.scores[kept].reset_index(drop=True)


def served_in_baking_order(records: Records) -> None:
    records.scores["order"] = records.scores["loaf"].str[1:].astype(float)


@dataclass(frozen=True)
class Case:
    """What is spoilt, and what the check then says."""

    code: str
    spoil: Spoil
    message: str
    fix: str
    rows: tuple[int, ...] = ()


CASES = [
    Case(
        "loaf-missing",
        cell("loaves", 8, "loaf", None),
        "There is no loaf number on line 10.",
        "Write the number that was on the loaf's label.",
        (10,),
    ),
    Case(
        "loaf-twice",
        cell("loaves", 9, "loaf", "L009"),
        "The same loaf number stands more than once: L009 on lines 10 and 11.",
        "Give each loaf its own number, or delete the row that was entered twice.",
        (10, 11),
    ),
    Case(
        "void-not-a-reason",
        cell("loaves", 9, "void", "no"),
        "Under void stands no reason on line 11 ('no').",
        "Leave the cell empty for a loaf that counts; write the reason for one that does not.",
        (11,),
    ),
    Case(
        "nothing-counted",
        cell("loaves", slice(None), "void", "burnt"),
        "All 32 loaves are void.",
        "Take the reason off those that count, or bake more.",
        (),
    ),
    Case(
        "loaves-void",
        cell("loaves", [9, 12], "void", "behalten"),
        "2 of 32 loaves are void: line 11 ('behalten') and line 14 ('behalten').",
        "Empty the cell if the loaf counts.",
        (11, 14),
    ),
    Case(
        "label-missing",
        cell("loaves", 9, "formula", None),
        "The formula is missing on line 11.",
        "Fill it in from the bench sheet, or give a reason under void if nobody knows.",
        (11,),
    ),
    Case(
        "ditto-mark",
        cell("loaves", 9, "formula", '"'),
        "There is a ditto mark under formula on line 11.",
        "Write out what it repeats.",
        (11,),
    ),
    Case(
        "names-alike",
        cell("loaves", 9, "formula", "Malted "),
        'The formula "malted" is also written "Malted " on line 11.',
        'Write "malted" throughout, or two names that differ.',
        (11,),
    ),
    Case(
        "names-alike",
        cell("loaves", 9, "mix", "m-04"),
        'The mix "M04" is also written "m-04" on line 11.',
        'Write "M04" throughout, or two names that differ.',
        (11,),
    ),
    Case(
        "names-alike",
        cell("loaves", 9, "formula", "malted\u200b"),
        'The formula "malted" is also written "malted\u200b" on line 11.',
        'Write "malted" throughout, or two names that differ.',
        (11,),
    ),
    *(
        Case(
            "names-alike",
            cell("loaves", 9, "mix", written),
            f'The mix "M04" is also written "{written}" on line 11.',
            'Write "M04" throughout, or two names that differ.',
            (11,),
        )
        for written in ("No. 4", "Nr 4", "4.0")
    ),
    Case(
        "day-two-ways",
        cell("loaves", 9, "day", "26-03-02"),
        'One bake day seems to be written in two ways, "2026-03-02" and "26-03-02", on line 11.',
        "Write every day in one way, such as 2026-03-01.",
        (11,),
    ),
    Case(
        "day-two-ways",
        cell("loaves", 9, "day", "02.03.2026"),
        'One bake day seems to be written in two ways, "2026-03-02" and "02.03.2026", on line 11.',
        "Write every day in one way, such as 2026-03-01.",
        (11,),
    ),
    Case(
        "day-two-ways",
        cell("loaves", 9, "day", "D2"),
        'Bake days are written in ways that cannot be held together: "2026-03-01" and "D2"; the'
        " rarer on line 11.",
        "Write every day in one way, such as 2026-03-01.",
        (11,),
    ),
    Case(
        "names-close",
        cell("loaves", 9, "baker", "Baker Eva"),
        'The baker "Baker Eva" on line 11 looks like "Baker Eve".',
        'Write "Baker Eve" if that is meant; otherwise leave it.',
        (11,),
    ),
    Case(
        "names-close",
        cell("loaves", 9, "mix", "M04 (b)"),
        'Mix "M04 (b)" looks like "M04", on line 11.',
        "Write the remark under note if it is one dough; leave it if each was mixed.",
        (11,),
    ),
    Case(
        "factor-no-column",
        card(factors={"formula": ("house", "malted"), "flour": ("a", "b")}),
        'The card names the factor "flour", but the table has no such column.',
        "Give its header under [columns] on the card, add the column, or take the factor off the"
        " card.",
        (),
    ),
    Case(
        "level-not-on-card",
        cell("loaves", 9, "formula", "maletd"),
        'The formula "maletd" on line 11 is not on the card.',
        'Write "malted" if that is meant, or add the level under [factors] on the card.',
        (11,),
    ),
    Case(
        "level-not-on-card",
        cell("loaves", 9, "tin", "cob"),
        'The tin "cob" on line 11 is not on the card.',
        "The card has open and lidded: write one of these, or add the level under [factors] on the"
        " card.",
        (11,),
    ),
    Case(
        "level-off-plan",
        both(card(factors={"proof_min": (45.0,)}), cell("loaves", 9, "proof_min", 47.0)),
        "The proof time is not as planned (45) on line 11 (47 min).",
        "Check the bench sheet; leave it if it was done so.",
        (11,),
    ),
    Case(
        "level-never-baked",
        card(factors={"formula": ("house", "malted", "seeded")}),
        "The card plans the formula seeded, but no loaf has it.",
        "Take it off the card, or look for the missing rows.",
        (),
    ),
    Case(
        "level-never-baked",
        card(factors={"formula": ("house", "malted"), "proof_min": (45.0, 60.0)}),
        "The card plans the proof time 60, but no loaf has it.",
        "Take it off the card, or look for the missing rows.",
        (),
    ),
    Case(
        "measure-no-column",
        card(measure="volume_per_100g_flour"),
        'The card asks about "volume_per_100g_flour", but the records do not hold it.',
        "It is worked out as loaf volume per 100 g of flour: record what it needs, or name another"
        " measure on the card.",
        (),
    ),
    Case(
        "measure-no-column",
        card(measure="hieght_mm"),
        'The card asks about "hieght_mm", but the records do not hold it.',
        'Is "height_mm" meant? Correct the card, or name another measure on the card.',
        (),
    ),
    Case(
        "control-not-baked",
        card(control="white", factors={}),
        'The card names "white" as the control, but no loaf has that formula.',
        "Correct the name on the card or in the table.",
        (),
    ),
    Case(
        "mix-two-formulas",
        cell("loaves", 9, "mix", "M01"),
        "More than one formula in mix M01 (house; malted on line 11).",
        "Correct the mix or the formula of the odd loaf.",
        (11,),
    ),
    Case(
        "mix-two-formulas",
        cell("loaves", 9, "formula", "house"),
        "More than one formula in mix M04 (malted; house on line 11).",
        "Correct the mix or the formula of the odd loaf.",
        (11,),
    ),
    Case(
        "mix-two-days",
        cell("loaves", 9, "day", "2026-03-03"),
        "More than one day in mix M04 (2026-03-02; 2026-03-03 on line 11).",
        "Correct the mix or the day; leave it if the dough was kept overnight.",
        (11,),
    ),
    Case(
        "mix-numbers-restart",
        mixes_numbered_anew_every_day,
        "Mix numbers start again with every day.",
        "Nothing to do; numbers that run through the whole trial are easier to follow.",
        (),
    ),
    Case(
        "mix-of-one-loaf",
        each_a_mix(lambda i, mix: f"D{i + 1}"),
        "Each of the 32 loaves has a mix of its own.",
        "Nothing to do if it was so; else give the loaves of one dough one name.",
        (),
    ),
    Case(
        "mix-divided",
        each_a_mix(lambda i, mix: f"{mix}.{i % 4 + 1}"),
        "Each loaf has a mix of its own, but the names seem to number the loaves of 8 doughs, such"
        " as M02.1, M02.2, M02.3 and M02.4.",
        "Give the loaves of one dough one name; leave it if each was mixed by itself.",
        tuple(range(2, 34)),
    ),
    Case(
        "mix-divided",
        each_a_mix(lambda i, mix: f"{mix} ({'abcd'[i % 4]})"),
        "Each loaf has a mix of its own, but the names seem to number the loaves of 8 doughs, such"
        " as M02 (a), M02 (b), M02 (c) and M02 (d).",
        "Give the loaves of one dough one name; leave it if each was mixed by itself.",
        tuple(range(2, 34)),
    ),
    Case(
        "mix-two-temperatures",
        cell("loaves", 9, "dough_temp_c", 29.5),
        "The dough temperature differs by more than 2 °C inside mix M04, lines 10, 11, 12 and 13.",
        "Write the temperature measured after mixing.",
        (10, 11, 12, 13),
    ),
    Case(
        "not-a-number",
        unread("loaves", 9, "loaf_g", "4o2"),
        "There is no number under loaf_g on line 11 ('4o2').",
        "Write a number (2.5 for 2 1/2), or empty the cell and say what happened under void or"
        " note.",
        (11,),
    ),
    Case(
        "void-not-a-number",
        both(cell("loaves", 9, "void", "dropped"), unread("loaves", 9, "loaf_g", "4o2")),
        "There is no number under loaf_g on line 11 ('4o2').",
        "Nothing to do while the loaf is void.",
        (11,),
    ),
    Case(
        "slip-unit",
        cell("loaves", 9, "loaf_g", 0.402),
        "Baked mass is about 1000 times too small (kg for g) on line 11 (0.402; 402 would fit).",
        "Write it in g, as it stands on the bench sheet.",
        (11,),
    ),
    Case(
        "slip-unit",
        cell("loaves", 9, "loaf_ml", 18100.0),
        "Loaf volume is about 10 times too large on line 11 (18100; 1810 would fit).",
        "Write it in mL, as it stands on the bench sheet.",
        (11,),
    ),
    Case(
        "slip-unit",
        cell("loaves", 9, "dough_g", 16.26),
        "Dough mass is about 28.35 times too small (ounces) on line 11 (16.26; 461 would fit).",
        "Write it in g, as it stands on the bench sheet.",
        (11,),
    ),
    Case(
        "slip-unit",
        cell("loaves", 9, "dough_temp_c", 77.0),
        "Dough temperature looks like °F on line 11 (77; 25 would fit).",
        "Write it in °C, or name °F in the header.",
        (11,),
    ),
    Case(
        "slip-swap",
        mass_and_volume_exchanged,
        "Baked mass and loaf volume are exchanged on line 11 (1810 g, 402 mL).",
        "Exchange the two values.",
        (11,),
    ),
    Case(
        "value-not-positive",
        cell("loaves", 9, "loaf_g", 0.0),
        "Baked mass is zero or less on line 11 (0 g).",
        "Correct it; empty the cell if it was not measured.",
        (11,),
    ),
    Case(
        "value-not-positive",
        cell("loaves", 9, "proof_min", -45.0),
        "Proof time is negative on line 11 (-45 min).",
        "Correct it; empty the cell if it was not measured.",
        (11,),
    ),
    Case(
        "gained-in-oven",
        cell("loaves", 9, "loaf_g", 465.0),
        "The baked mass is not below the dough mass on line 11 (465 g from 461 g of dough).",
        "Look whether two columns or two loaves were exchanged; weigh again.",
        (11,),
    ),
    Case(
        "seed-above-box",
        by_displacement("box_ml", 9, 2000.0),
        "There is as much seed as fills the empty box on line 11 (3190 mL of seed, 2000 mL box).",
        "seed_ml is the seed that fits in around the loaf; measure again.",
        (11,),
    ),
    Case(
        "tin-overfull",
        cell("loaves", 11, "loaf_ml", 2300.0),
        'Loaf volume is more than 1.05 times that of the tin "lidded" (2100 mL, under a lid) on'
        " line 13 (2300 mL).",
        "Measure again, or correct the tin or its volume on the card.",
        (13,),
    ),
    Case(
        "tin-not-on-card",
        card(tins={"lidded": TINS["lidded"]}),
        "The card has no volume for the tin open.",
        "Add  [tins.open]  with volume_ml and lid.",
        (),
    ),
    Case(
        "lid-not-on-card",
        card(tins={"open": TINS["open"]}),
        'The tin "lidded" seems to have a lid, and the card does not say so.',
        'Write on the card  [tins."lidded"]  with  lid = true  and its volume_ml.',
        (4, 5, 8, 9, 12, 13, 16, 17, 20, 21, 24, 25, 28, 29, 32, 33),
    ),
    Case(
        "volume-two-ways",
        by_displacement("seed_ml", 9, 3100.0),
        "Loaf volume disagrees with box less seed on line 11 (1810 mL, box less seed 1900 mL).",
        "Correct the wrong one, or empty the cell that was not measured.",
        (11,),
    ),
    Case(
        "value-unlikely",
        cell("loaves", 9, "cool_min", 3000.0),
        "Cooling time is outside 0 to 2880 min on line 11 (3000 min).",
        "Check it against the bench sheet; leave it if it is right.",
        (11,),
    ),
    Case(
        "value-far",
        cell("loaves", 9, "loaf_ml", 1080.0),
        "Loaf volume is far from the other loaves of its mix and combination on line 11 (1080; 1805"
        " expected; 1800 with two digits exchanged).",
        "Check it against the bench sheet; leave it if it was measured so.",
        (11,),
    ),
    Case(
        "value-far",
        cell("loaves", 9, "height_mm", 150.0),
        "Height is far from the other loaves of its mix and combination on line 11 (150; 120"
        " expected).",
        "Check it against the bench sheet; leave it if it was measured so.",
        (11,),
    ),
    Case(
        "value-missing",
        cell("loaves", 9, "loaf_ml", np.nan),
        "Loaf volume is missing for 1 of 32 loaves, on line 11.",
        "Fill it in if it was measured.",
        (11,),
    ),
    Case(
        "rows-alike",
        row_copied,
        "Rows are the same but for the loaf's number: lines 10 and 11.",
        "Enter what was measured on each loaf.",
        (10, 11),
    ),
    Case(
        "values-run",
        cell("loaves", slice(16, 21), "loaf_ml", 1710.0),
        "Loaf volume stays the same over 6 loaves (1710, line 18 to 23).",
        "Enter what was measured on each loaf.",
        tuple(range(18, 24)),
    ),
    Case(
        "values-run",
        cell("loaves", slice(8, 12), "loaf_g", [402.0, 403.0, 404.0, 405.0, 406.0]),
        "Baked mass counts up by one over 5 loaves (402, line 10 to 14).",
        "Enter what was measured on each loaf.",
        tuple(range(10, 15)),
    ),
    Case(
        "values-constant",
        cell("loaves", slice(None), "height_mm", 110.0),
        "Height is 110 mm for all 32 loaves.",
        "Enter what was measured on each loaf.",
        (),
    ),
    Case(
        "values-constant",
        cell("loaves", slice(None), "crumb_even", 6.0),
        "Crumb even is 6 points for all 32 loaves.",
        "Enter what was measured on each loaf.",
        (),
    ),
    Case(
        "columns-copied",
        column_copied,
        "The columns crumb_even and crumb_open hold the same 32 values.",
        "Enter the values of each column again.",
        (),
    ),
    Case(
        "order-twice",
        cell("loaves", 9, "measure_order", 6.0),
        "A place in the order of measuring stands twice on one day on line 10 (place 6) and line 11"
        " (place 6).",
        "Correct the order from the bench sheet.",
        (10, 11),
    ),
    Case(
        "order-against-load",
        cell("loaves", 9, "oven_load", "load 2"),
        "The order of baking goes back and forth between oven loads on line 10 (load 1, place 1),"
        " line 11 (load 2, place 2), line 12 (load 1, place 3), line 13 (load 1, place 4), line 14"
        " (load 2, place 5), line 15 (load 2, place 6), line 16 (load 2, place 7) and line 17 (load"
        " 2, place 8).",
        "Correct the order or the load from the bench sheet.",
        tuple(range(10, 18)),
    ),
    Case(
        "order-against-day",
        order_through_the_days,
        "The order of baking and the day disagree on line 11 (place 31, day 2026-03-02).",
        "Correct the order or the day from the bench sheet.",
        (11,),
    ),
    Case(
        "cooled-too-briefly",
        cell("loaves", 9, "cool_min", 30.0),
        "The loaf cooled for less than the 120 min on the card on line 11 (30 min).",
        "Void a loaf that was measured warm, and let the next ones cool longer.",
        (11,),
    ),
    Case(
        "cooled-too-briefly",
        both(card(min_cool_min=None), cell("loaves", 9, "cool_min", 30.0)),
        "The loaf cooled for less than 120 min, usual for a pan loaf, on line 11 (30 min).",
        "Void a loaf that was measured warm, and let the next ones cool longer. Write  min_cool_min"
        "  on the card if another time was agreed.",
        (11,),
    ),
    Case(
        "losses-follow-formula",
        cell("loaves", [0, 1, 2, 3, 9], "void", "fell"),
        "Void or without a value: 5 of 16 malted and 0 of 16 house loaves.",
        "Say in the answer why they were lost; bake them again if you can.",
        (2, 3, 4, 5, 11),
    ),
    Case(
        "reading-not-a-number",
        unread("readings", 3, "loaf_ml", "18x0"),
        "There is no number under loaf_ml on line 5 ('18x0').",
        "Write a number (2.5 for 2 1/2), or empty the cell and say what happened under void or"
        " note.",
        (5,),
    ),
    Case(
        "reading-of-no-loaf",
        cell("readings", 4, "loaf", "L099"),
        "There is no such loaf in the table of loaves: line 6 (L099).",
        "Correct the number, or add the loaf.",
        (6,),
    ),
    Case(
        "readings-apart",
        cell("readings", 4, "loaf_ml", 2100.0),
        "Volume readings disagree for loaf L002 (1802, 2100 and 1811 mL), lines 5, 6 and 7.",
        "Read the volume again if the loaf is still there; otherwise strike the misread one.",
        (5, 6, 7),
    ),
    Case(
        "score-not-a-number",
        unread("scores", 3, "score", "good"),
        "There is no number under score on line 5 ('good').",
        "Write a number (2.5 for 2 1/2), or empty the cell and say what happened under void or"
        " note.",
        (5,),
    ),
    Case(
        "score-label-missing",
        cell("scores", 4, "assessor", None),
        "The assessor is missing on line 6.",
        "Fill it in from the score sheet.",
        (6,),
    ),
    Case(
        "score-of-no-loaf",
        cell("scores", 4, "loaf", "L099"),
        "There is no such loaf in the table of loaves: line 6 (L099).",
        "Correct the number, or add the loaf.",
        (6,),
    ),
    Case(
        "score-names-alike",
        cell("scores", 4, "assessor", "ana"),
        'The assessor "Ana" is also written "ana" on line 6.',
        'Write "Ana" throughout, or two names that differ.',
        (6,),
    ),
    Case(
        "score-twice",
        cell("scores", 4, "loaf", "L004"),
        "A score stands more than once for the same loaf, assessor and attribute: line 5 (loaf"
        " L004, Ana, openness) and line 6 (loaf L004, Ana, openness).",
        "Correct the loaf or the name; call the column of names  assessor, if there is none; or"
        " number second looks in a column  repeat.",
        (5, 6),
    ),
    Case(
        "score-off-scale",
        cell("scores", 4, "score", 11.0),
        "The scale goes from 1 to 10; score is off it on line 6 (11).",
        "Correct the score, or the scale on the card.",
        (6,),
    ),
    Case(
        "crumb-off-scale",
        cell("loaves", 4, "crumb_even", 0.0),
        "The scale goes from 1 to 10; crumb_even is off it on line 6 (0).",
        "Correct the score, or the scale on the card.",
        (6,),
    ),
    Case(
        "score-between-steps",
        cell("scores", 4, "score", 6.5),
        "The scale has steps of 1; score lies between them on line 6 (6.5).",
        "Correct the score, or write the step in use on the card:  step = 0.5",
        (6,),
    ),
    Case(
        "crumb-between-steps",
        cell("loaves", 4, "crumb_even", 6.5),
        "The scale has steps of 1; crumb_even lies between them on line 6 (6.5).",
        "Correct the score, or write the step in use on the card:  step = 0.5",
        (6,),
    ),
    Case(
        "attribute-not-on-card",
        cell("scores", 4, "attribute", "opennes"),
        'The attribute "opennes" is not on the card, line 6.',
        "The card has openness and softness: write one of these, or add it.",
        (6,),
    ),
    Case(
        "assessor-one-score",
        cell("scores", slice(8, 15), "score", 5.0),
        "Ana gave softness the score 5 in all 8 scores.",
        "Ask whether the scale or the light was the reason; look at the answer without it.",
        tuple(range(10, 18)),
    ),
    Case(
        "scores-copied",
        scores_pasted,
        "Ana and Ben have the same scores throughout (openness).",
        "Look at the score sheets; enter them again if one was copied.",
        (2, 3, 4, 5, 6, 7, 8, 9, 18, 19, 20, 21, 22, 23, 24, 25),
    ),
    Case(
        "assessor-one-formula",
        one_formula_for_dot,
        "Not everybody scored more than one formula: Dot only house.",
        "Let everybody score every formula; until then see the answer without these scores.",
        (54, 55, 56, 57, 62, 63, 64, 65),
    ),
    Case(
        "order-follows-formula",
        served_in_baking_order,
        "The order of scoring follows the formula; mean place: malted 2.5 and house 6.5.",
        "Serve in an order that changes from person to person next time.",
        (
            2,
            3,
            4,
            5,
            6,
            7,
            8,
            9,
            18,
            19,
            20,
            21,
            22,
            23,
            24,
            25,
            34,
            35,
            36,
            37,
            38,
            39,
            40,
            41,
            50,
            51,
            52,
            53,
            54,
            55,
            56,
            57,
        ),
    ),
    Case(
        "not-blind",
        cell("loaves", slice(None), "baker", "ana"),
        "Ana baked and scored, and the card does not say that the loaves were coded.",
        "Write  blind = true  under [scores] on the card if they were. Give loaves codes by lot"
        " before they are scored next time, and say in the answer that these had none.",
    ),
    Case(
        "not-blind",
        card(scores=ScoreScale(blind=False)),
        "The card says that the loaves had no blind codes: who scored knew the formula.",
        "Give loaves codes by lot before they are scored next time, and say in the answer that"
        " these had none.",
    ),
]


def test_a_good_trial_is_passed_in_silence():
    assert good_records().findings() == ()


@pytest.mark.parametrize("case", CASES, ids=[f"{i}-{case.code}" for i, case in enumerate(CASES)])
def test_one_spoilt_thing_is_told_once_and_in_full(case):
    records = good_records()
    case.spoil(records)
    aside = {"loaves-void"} - {case.code}  # what a loaf is void for is told beside
    found = [f for f in records.findings() if f.code not in aside]
    assert [f.code for f in found] == [case.code]
    assert (found[0].message, found[0].fix) == (case.message, case.fix)
    assert found[0].rows == case.rows


def test_every_check_has_a_case():
    elsewhere = ("codes", "tasting", "words")  # test_checks_tasting.py
    own = {
        "column-unit",
        "height-flat",  # test_whole_columns.py
        "row-above",  # test_checks_shifts.py
        "rows-perhaps-alike",
        "day-and-month",
        "loaves-exchanged",
        "box-unlike",
        "mixes-exchanged",
        "mix-or-day-apart",
        "slips-not-sought",
        "nothing-measured",
        "nothing-changed",
        "header-not-used",
        "measure-not-said",
        "measure-empty",  # test_answerable.py
        "changed-not-named",  # test_unnamed_settings.py
        "loaf-of-several",  # test_odd_cells.py
        "day-years-away",
        "card-measure-no-column",
        "nothing-on-line",  # test_wide_sheets.py
    }
    assert {check.code for check in CHECKS if check.table not in elsewhere} - own == {
        case.code for case in CASES
    }

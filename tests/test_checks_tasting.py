"""The key, servings and ticked words: every check speaks when one thing is spoilt, read to the
end.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import pytest
from fairloaf.analysis.answers_of_tasting import tasting_answers
from fairloaf.trials import TrialError, load_trial
from fairloaf.trials.checks import CHECKS
from fairloaf.trials.loading import read_trial

from .tasting_trial import CARD, CODES, LOAVES, TASTING, WORDS, with_line, written

TABLES = ("codes", "tasting", "words")


@dataclass
class Case:
    code: str
    table: str
    severity: str
    files: dict
    message: str
    fix: str
    rows: tuple[int, ...] = ()
    also: tuple[str, ...] = field(default=())


def tasting(line: int, text: str) -> dict:
    return {"tasting": with_line(TASTING, line, text)}


def words(line: int, text: str) -> dict:
    return {"words": with_line(WORDS, line, text)}


KINDS = "triangle, duo-trio, tetrad, three-choice, pair, preference, ranking"
CASES = [
    Case(
        "code-twice",
        "codes",
        "error",
        {"codes": [*CODES, "468,2"]},
        "A code stands for two loaves: line 7 (468, loaf 4) and line 8 (468, loaf 2).",
        "Give every loaf codes of its own; look at the tray list.",
        (7, 8),
        also=("served-wrong",),
    ),
    Case(
        "code-of-no-loaf",
        "codes",
        "error",
        {"codes": [*CODES, "987,9"]},
        "There is no such loaf in the table of loaves: line 8 (9).",
        "Correct the number, or add the loaf.",
        (8,),
    ),
    Case(
        "group-names-alike",
        "tasting",
        "error",
        {
            "tasting": [
                f"{row},{'group' if i == 0 else '7A' if i == 1 else '7a'}"
                for i, row in enumerate(TASTING)
            ]
        },
        'The group "7a" is also written "7A" on line 2.',
        'Write "7a" throughout, or two names that differ.',
        (2,),
    ),
    Case(
        "code-unknown",
        "tasting",
        "error",
        tasting(2, "p1,triangle,l23 234 321,234,,,"),
        "There is no such code in the key: line 2 (code l23, perhaps 123).",
        "Correct the code, or add it to codes.csv with its loaf.",
        (2,),
    ),
    Case(
        "answer-number",
        "tasting",
        "error",
        tasting(27, "p1,ranking,357 468,357 468,sour,,"),
        "The answer has another number of codes than the test asks for: line 27 ('357 468' is no"
        " order).",
        "Write the codes from the least to the most with  <  between them, and  =  where two share"
        " a place, such as  357 < 468 = 234.",
        (27,),
    ),
    Case(
        "code-unknown",
        "tasting",
        "error",
        tasting(2, "p1,triangle,123 234 999,234,,,"),
        "There is no such code in the key: line 2 (code 999).",
        "Correct the code, or add it to codes.csv with its loaf.",
        (2,),
    ),
    Case(
        "test-unknown",
        "tasting",
        "error",
        tasting(2, "p1,sniffing,123 234 321,234,,,"),
        "It is not known which test it was: line 2 (the test 'sniffing').",
        f"Write one of: {KINDS}.",
        (2,),
    ),
    Case(
        "assessor-missing",
        "tasting",
        "error",
        tasting(2, ",triangle,123 321 234,234,,,"),
        "It is not said who it was on line 2.",
        "Fill in the person's number from the ballot, in every row.",
        (2,),
    ),
    Case(
        "taster-names-alike",
        "tasting",
        "error",
        tasting(2, "P1,triangle,123 321 234,321,,,"),
        'The assessor "p1" is also written "P1" on line 2.',
        'Write "p1" throughout, or two names that differ.',
        (2,),
        also=("not-as-planned",),
    ),
    Case(
        "served-number",
        "tasting",
        "error",
        tasting(2, "p1,triangle,123 234,234,,,"),
        "The number of cups is wrong: line 2 (2 cups in a triangle test, which has 3).",
        "Write the codes of all cups in one cell under served, in serving order, with a space"
        " between two codes and none inside.",
        (2,),
    ),
    Case(
        "served-wrong",
        "tasting",
        "error",
        tasting(2, "p1,triangle,123 321 357,123,,,"),
        "The cups do not make the test: line 2 (a triangle test has two cups of one bread and one"
        " of another, not 123 (loaf 1) 321 (loaf 1) 357 (loaf 2)).",
        "Correct the codes or the key; or give the row a reason under void.",
        (2,),
    ),
    Case(
        "served-wrong",
        "tasting",
        "error",
        tasting(14, "p1,duo-trio,357 468,357,,,"),
        "The cups do not make the test: line 14 (no reference).",
        "Write the reference's code, loaf or formula under reference.",
        (14,),
    ),
    Case(
        "answer-not-served",
        "tasting",
        "error",
        tasting(2, "p1,triangle,123 321 234,468,,,"),
        "The answer was not among the cups: line 2 (468, not among 123 321 234).",
        "An answer is the code of a cup, not its place: correct it, or the codes under served.",
        (2,),
    ),
    Case(
        "answer-number",
        "tasting",
        "error",
        tasting(2, "p1,triangle,123 321 234,123 321,,,"),
        "The answer has another number of codes than the test asks for: line 2 ('123 321' in a"
        " triangle test, which is answered by 1).",
        "Write every code of the answer once; if the ballot is not clear, leave it blank.",
        (2,),
    ),
    Case(
        "answer-missing",
        "tasting",
        "warning",
        tasting(2, "p1,triangle,123 321 234,,,,"),
        "There is no answer, so that the serving is left out: line 2 (p1).",
        "Fill it in from the ballot; a guess counts, no answer does not.",
        (2,),
    ),
    Case(
        "served-twice",
        "tasting",
        "error",
        {"tasting": [*TASTING, "p1,triangle,123 321 234,123,,,"]},
        "The same person stands more than once with the same test: line 2 (p1, triangle) and line"
        " 29 (p1, triangle).",
        "Correct the person, or number second servings in a column  repeat.",
        (2, 29),
    ),
    Case(
        "expected-missing",
        "tasting",
        "warning",
        {
            "tasting": [*TASTING, "p1,pair,357 468,357,sour,,"],
            "card": CARD.replace('expected = ["house", "malted"]', ""),
        },
        "The card does not say which bread of the pair was expected to have more, line 29.",
        'Write on the card, under [tasting],  expected = "…"  as it was expected beforehand.',
        (29,),
    ),
    Case(
        "places-uneven",
        "tasting",
        "warning",
        {"tasting": [TASTING[0], *(f"p{n},triangle,123 234 321,234,,," for n in range(1, 13))]},
        "In the triangle test the odd cup stood in the places from first to last 0, 12, 0 times.",
        "Serve every order equally often next time; fairloaf serve draws such a plan.",
        tuple(range(2, 14)),
    ),
    Case(
        "names-of-people",
        "tasting",
        "warning",
        {"tasting": [line.replace("p1,", "Ida Berg,") for line in TASTING]},
        "People seem to stand with first and last name on lines 2, 14, 26 and 27.",
        "Write a number or a letter for each person, and keep the list of names elsewhere.",
        (2, 14, 26, 27),
    ),
    Case(
        "not-as-planned",
        "tasting",
        "warning",
        {"card": CARD.replace("= 12", "= 20")},
        "20 people were planned, and 12 tasted: was it stopped when it looked good?",
        "Say why wherever you tell of it; a number fixed beforehand keeps the test honest.",
    ),
    Case(
        "assessor-missing",
        "words",
        "error",
        words(2, ",123,x,"),
        "It is not said who it was on line 2.",
        "Fill in the person's number from the ballot, in every row.",
        (2,),
    ),
    Case(
        "looker-names-alike",
        "words",
        "error",
        words(2, "P1,123,x,"),
        'The assessor "P1" is also written "p1" on line 3.',
        'Write "P1" throughout, or two names that differ.',
        (3,),
    ),
    Case(
        "table-names-alike",
        "words",
        "error",
        {
            "words": [
                f"{row},{'table' if i == 0 else 'A' if i == 1 else 'a'}"
                for i, row in enumerate(WORDS)
            ]
        },
        'The table "a" is also written "A" on line 2.',
        'Write "a" throughout, or two names that differ.',
        (2,),
    ),
    Case(
        "code-unknown",
        "words",
        "error",
        words(2, "p1,999,x,"),
        "There is no such code in the key: line 2 (code 999).",
        "Correct the code, or add it to codes.csv with its loaf.",
        (2,),
    ),
    Case(
        "code-of-no-loaf",
        "words",
        "error",
        {"words": ["assessor,loaf,sour,chewy", "p1,1,x,", "p1,9,,x", "p2,1,x,", "p2,3,x,"]},
        "There is no such loaf in the table of loaves: line 3 (9).",
        "Correct the number, or add the loaf.",
        (3,),
    ),
    Case(
        "looked-twice",
        "words",
        "error",
        {"words": [*WORDS, "p1,123,x,"]},
        "The same person stands more than once with the same bread: line 2 (p1, 123) and line 26"
        " (p1, 123).",
        "Correct the person or the code, or number second looks in a column  repeat.",
        (2, 26),
    ),
    Case(
        "tick-unclear",
        "words",
        "error",
        words(2, "p1,123,a bit,"),
        "It is not clear whether a word was ticked: line 2 (sour: 'a bit').",
        "Write  x  for a tick, nothing for none, and  ?  where the word was not judged.",
        (2,),
    ),
    Case(
        "word-not-on-card",
        "words",
        "warning",
        {"words": with_line(WORDS, 1, "assessor,code,sour,chewwy")},
        'Not among the card\'s words: "chewwy".',
        "The card has sour and chewy: write one of these, or add it under [words].",
    ),
    Case(
        "names-of-people",
        "words",
        "warning",
        {"words": [line.replace("p1,", "Ida Berg,") for line in WORDS]},
        "People seem to stand with first and last name on lines 2 and 3.",
        "Write a number or a letter for each person, and keep the list of names elsewhere.",
        (2, 3),
    ),
    Case(
        "ticked-nothing",
        "words",
        "note",
        {"words": with_line(with_line(WORDS, 4, "p2,123,,"), 5, "p2,234,,")},
        "One person ticked no word at all, lines 4 and 5; they count as having looked.",
        "If they did not look, take the rows out or write a reason under void.",
        (4, 5),
    ),
    Case(
        "not-as-planned",
        "words",
        "warning",
        {"tasting": None, "card": CARD.replace("= 12", "= 20")},
        "20 people were planned, and 12 looked: was it stopped when it looked good?",
        "Say why wherever you tell of it; a number fixed beforehand keeps the test honest.",
    ),
]


def told(folder) -> list:
    return [f for f in read_trial(folder).findings if f.file.removesuffix(".csv") in TABLES]


def test_a_good_tasting_is_passed_in_silence(tmp_path):
    assert told(written(tmp_path)) == []


@pytest.mark.parametrize(
    "case", CASES, ids=[f"{case.table}-{case.code}-{i}" for i, case in enumerate(CASES)]
)
def test_one_spoilt_thing_is_told_with_its_line_and_its_fix(case, tmp_path):
    found = told(written(tmp_path, **case.files))
    assert {f.code for f in found} == {case.code, *case.also}
    first = next(f for f in found if f.code == case.code)
    assert (first.message, first.fix) == (case.message, case.fix)
    assert (first.rows, first.severity, first.file) == (
        case.rows,
        case.severity,
        f"{case.table}.csv",
    )
    assert first.why


def test_every_check_has_a_case():
    assert {(c.code, c.table) for c in CHECKS if c.table in TABLES} == {
        (case.code, case.table) for case in CASES
    }


@pytest.mark.parametrize(
    ("name", "lines", "missing"),
    [
        ("codes", ["code,note", "123,a"], "loaf"),
        ("tasting", ["assessor,served", "p1,123 234 321"], "answer"),
        ("words", ["code,sour", "123,x"], "assessor"),
        ("words", ["assessor,sour", "p1,x"], "code"),
    ],
)
def test_a_column_that_is_needed_and_not_there_is_told(name, lines, missing, tmp_path):
    with pytest.raises(TrialError) as stopped:
        load_trial(written(tmp_path, **{name: lines}))
    assert ("no-column", missing) in {(f.code, f.column) for f in stopped.value.findings}


@pytest.mark.parametrize("name", ["codes", "tasting", "words"])
def test_no_table_of_the_tasting_is_taken_for_the_loaves(name, tmp_path):
    folder = written(tmp_path, loaves=None)
    with pytest.raises(TrialError) as stopped:
        load_trial(folder)
    assert [f.code for f in stopped.value.findings] == ["no-loaves-file"]
    with pytest.raises(TrialError) as stopped:
        load_trial(folder / f"{name}.csv")
    assert [f.code for f in stopped.value.findings] == ["part-of-a-trial"]


def test_a_served_folder_without_the_loaves_says_where_its_files_belong(tmp_path):
    said = r"has codes\.csv, tasting\.csv and words\.csv, but no loaves"
    with pytest.raises(TrialError, match=said):
        load_trial(written(tmp_path, loaves=None))


@pytest.mark.parametrize("name", ["ballots", "word_sheets", "tray_list", "key"])
def test_no_printed_workbook_of_a_tasting_is_taken_for_the_loaves(name, tmp_path):
    (tmp_path / f"{name}.xlsx").write_bytes(b"")
    with pytest.raises(TrialError, match=r"has no loaves.csv; it has no table at all"):
        load_trial(tmp_path)


@pytest.mark.parametrize(
    ("name", "text", "rows"),
    [
        ("tasting", "", "a row a serving"),
        ("words", "assessor,code,sour\n", "a row a person and bread"),
        ("codes", "code,loaf\n", "a row a code"),
    ],
)
def test_an_empty_file_says_what_its_rows_are(name, text, rows, tmp_path):
    with pytest.raises(TrialError) as stopped:
        load_trial(written(tmp_path, **{name: text}))
    (found,) = stopped.value.findings
    assert (found.code, found.file) == ("empty-file", f"{name}.csv")
    assert found.fix.startswith(f"Write {rows}")


def test_without_a_key_the_fix_is_to_write_one(tmp_path):
    found = told(written(tmp_path, codes=None))
    assert {(f.code, f.fix) for f in found if f.severity == "error"} == {
        ("code-unknown", "Write the key: codes.csv with the columns code and loaf.")
    }


def test_cells_that_are_not_clear_are_not_also_called_unticked(tmp_path):
    found = told(written(tmp_path, words=[row.replace("x", "V") for row in WORDS]))
    assert [f.code for f in found] == ["tick-unclear"]


@pytest.mark.parametrize(
    ("row", "why"),
    [
        ("p1,triangle,123 321 234,none,,,", "1 of triangle: no answer"),
        ("p1,pair,357 468,357,sour,,", "1 of pair: no bread expected"),
    ],
)
def test_where_no_serving_can_be_judged_it_is_said_why(row, why, tmp_path):
    card = CARD.replace('expected = ["house", "malted"]\n', "")
    trial = load_trial(written(tmp_path, tasting=[TASTING[0], row], card=card))
    with pytest.raises(TrialError, match=rf"can be judged \({why}\)"):
        tasting_answers(trial)


def test_another_file_of_loaves_is_still_found_beside_them(tmp_path):
    folder = written(tmp_path, loaves=None)
    (folder / "bakes.csv").write_text("\n".join(LOAVES) + "\n", encoding="utf-8")
    assert len(load_trial(folder).loaves) == 4

"""Every filled cell of a file is used, kept or named; every row is a loaf, a score, or named: over
tables at random.
"""

import csv
import io
import math
import random
import re
import time
from dataclasses import replace

import pandas as pd
import pytest
import xlsxwriter
from fairloaf.trials import Trial, TrialError, read_trial
from fairloaf.trials.reading.account import account
from fairloaf.trials.reading.records import read_records

from .seeds import seeds

HEADERS = {
    "loaf": ["loaf", "Loaf no.", "Sample", "Loaf"],
    "formula": ["formula", "Recipe", "Formula", ""],
    "mix": ["mix", "Dough", "Batch"],
    "day": ["day", "Date", "Baked on"],
    "tin": ["tin", "Pan"],
    "dough_g": ["dough_g", "Dough (g)", "W1"],
    "loaf_g": ["loaf_g", "Baked mass", "Weight 2 (g)"],
    "loaf_ml": ["loaf_ml", "Vol (mL)", "Volume"],
    "height": ["height_mm", "Height (cm)"],
    "void": ["void", "Left out", "Used"],
    "note": ["note", "Remarks", "zz", ""],
    "mood": ["mood", "", "Who"],
}
WORDS = [
    "",
    "",
    "n/a",
    "-",
    "burnt",
    "no",
    "see book",
    "Mean",
    "x",
    "≈5",
    "12 kg",
    "#N/A",
    "house",
    "two\nlines",
    "a, b",
    'say "so"',
    "0",
    "007",
    "1.650",
    "2026-03-01 08:15",
    "ja",
    "'=1",
    "=A1+1",
]


def cell(draw, kind, row):
    """Return what somebody may have written in a cell of a column."""
    if draw.random() < 0.06:
        return draw.choice(WORDS)
    usual = {
        "loaf": str(row + 1),
        "formula": draw.choice(["house", "malted"]),
        "mix": f"M{row // 3}",
        "day": f"2026-03-0{1 + row % 4}",
        "tin": draw.choice(["open", "tall"]),
        "dough_g": str(draw.randint(440, 460)),
        "loaf_g": f"{draw.uniform(390, 410):.1f}",
        "loaf_ml": str(draw.randint(1500, 1700)),
        "height": str(draw.randint(80, 120)),
        "void": "",
        "note": draw.choice(["", "", "pale"]),
        "mood": draw.choice(["glad", "7", ""]),
    }
    return usual[kind]


def random_table(draw):
    """Return rows of text: perhaps titles, a header, perhaps units, loaves, perhaps the header
    again and remarks.
    """
    kinds = [
        "loaf",
        "loaf_ml",
        *draw.sample(
            [kind for kind in HEADERS if kind not in ("loaf", "loaf_ml")], draw.randint(1, 9)
        ),
    ]
    draw.shuffle(kinds)
    header = [draw.choice(HEADERS[kind]) for kind in kinds]
    rows = [[f"A trial of {draw.choice(['May', 'June'])}"], []] if draw.random() < 0.2 else []
    rows.append(header)
    if draw.random() < 0.1:
        rows.append(
            [{"dough_g": "g", "loaf_g": "g", "loaf_ml": "mL"}.get(kind, "") for kind in kinds]
        )
    for row in range(draw.randint(1, 20)):
        rows.append([cell(draw, kind, row) for kind in kinds])
        if draw.random() < 0.03:
            rows.append(
                draw.choice(
                    [header, [], ["all of these were baked by night"], ["x"] * (len(kinds) + 2)]
                )
            )
    return rows


def as_csv(draw, rows):
    """Return the text of a table, quoted as needed."""
    out = io.StringIO()
    csv.writer(
        out, delimiter=draw.choice(",;\t|"), lineterminator=draw.choice(["\n", "\r\n"])
    ).writerows(rows)
    return out.getvalue()


def mutated(draw, text):
    """Return a text with a few slips of the hand: signs added, taken away, exchanged; lines lost,
    doubled.
    """
    signs = list(text)
    for _ in range(draw.randint(1, 4)):
        place = draw.randrange(len(signs)) if signs else 0
        what = draw.random()
        if what < 0.4:
            signs.insert(place, draw.choice("\",;\t\n '.=#-0€é"))
        elif what < 0.7 and signs:
            signs.pop(place)
        elif signs:
            end = min(len(signs), place + draw.randint(1, 30))
            signs[place:end] = signs[place:end] * draw.choice([0, 2])
    return "".join(signs)


def unaccounted(trial, cells):
    """Return the filled cells, (line, text), that are neither in the loaves nor named in any way.

    A cell is used where its text stands in its row, or a number where its row holds one; it is
    named where a finding tells its line, or an assumption its text or its line.
    """
    told = " ".join([*trial.assumptions, *(finding.message for finding in trial.findings)])
    lines = {line for finding in trial.findings for line in finding.rows} | set(
        map(int, re.findall(r"\d+", told))
    )
    odd = set(zip(trial.unreadable["line"], trial.unreadable["text"], strict=True))
    rows = {row.pop("line"): set(row.values()) for row in trial.loaves.to_dict("records")}
    lost = []
    for line, text in cells:
        own = rows.get(line, set())
        is_used = (
            text in own
            or text in trial.headers.values()
            or (
                re.search(r"\d", text)
                and any(isinstance(value, float) and math.isfinite(value) for value in own)
            )
        )
        # an apostrophe before a formula is a spreadsheet's sign for text, and no part of it
        is_odd = (line, text) in odd or (line, text.removeprefix("'")) in odd
        if not (is_used or is_odd or line in lines or text in told):
            lost.append((line, text))
    return lost


def outcome(path):
    """Return the trial that a file gives, or the TrialError; seconds of processor time."""
    began = time.process_time()
    try:
        result = read_trial(path)
    except TrialError as error:
        result = error
    return result, time.process_time() - began


def check_random_file(draw, path):
    """Write a random table, or a mutated one, and hold that nothing of it is lost; return the
    seconds.
    """
    rows = random_table(draw)
    text = as_csv(draw, rows)
    sound = draw.random() < 0.5
    path.write_text(text if sound else mutated(draw, text), "utf-8", newline="")
    result, seconds = outcome(path)
    assert result.findings or not isinstance(result, TrialError)
    codes = {finding.code for finding in result.findings}
    assert "account-does-not-add-up" not in codes, path.read_text("utf-8")
    if sound and isinstance(result, Trial):
        line, cells = 1, []
        for row in rows:
            cells += [(line, " ".join(text.split(" "))) for text in row if text.strip()]
            line += 1 + sum(text.count("\n") for text in row)
        first = int(result.loaves["line"].min())
        lost = [(line, text) for line, text in unaccounted(result, cells) if line >= first]
        assert lost == [], (path.read_text("utf-8"), result.assumptions)
    return seconds


@pytest.mark.parametrize("seed", seeds(range(60), 30))
def test_nothing_is_lost_of_a_random_table(tmp_path, seed):
    check_random_file(random.Random(seed), tmp_path / "loaves.csv")


@pytest.mark.parametrize("seed", range(2))
def test_nothing_is_lost_of_a_random_workbook(tmp_path, seed):
    draw = random.Random(seed)
    rows = random_table(draw)
    with xlsxwriter.Workbook(tmp_path / "loaves.xlsx") as book:
        sheet = book.add_worksheet()
        for place, row in enumerate(rows):
            for column, text in enumerate(row):
                sheet.write_string(place, column, text)
    result, _ = outcome(tmp_path / "loaves.xlsx")
    assert "account-does-not-add-up" not in {finding.code for finding in result.findings}
    if isinstance(result, Trial):
        first = int(result.loaves["line"].min())
        cells = [
            (line, text.strip())
            for line, row in enumerate(rows, start=1)
            for text in row
            if text.strip()
        ]
        assert [cell for cell in unaccounted(result, cells) if cell[0] >= first] == [], rows


GOOD = "loaf,formula,loaf_g,loaf_ml\n1,house,401,1610\n2,malted,400,1650\n3,house,402,n/a\n"


def read(tmp_path, text=GOOD):
    (tmp_path / "loaves.csv").write_text(text, "utf-8")
    records = read_records(tmp_path / "loaves.csv")
    return records.raw["loaves"], records.typed["loaves"]


def test_an_account_tells_where_everything_went(tmp_path):
    raw, typed = read(tmp_path, "May\n" + GOOD)
    own = account(raw, typed)
    assert own.adds_up
    assert (own.rows, own.records, own.rows_named) == (5, 3, 2)
    assert (own.cells, own.cells_used, own.cells_named) == (17, 11, 6)


@pytest.mark.parametrize(
    "spoil",
    [
        lambda raw, typed: (raw, replace(typed, frame=typed.frame[:2])),
        lambda raw, typed: (raw, replace(typed, frame=pd.concat([typed.frame, typed.frame[:1]]))),
        lambda raw, typed: (
            raw,
            replace(typed, frame=typed.frame.assign(formula=[None, "malted", "house"])),
        ),
        lambda raw, typed: (raw, replace(typed, settled={})),
        lambda raw, typed: (replace(raw, all_cells=raw.all_cells + 1), typed),
        lambda raw, typed: (replace(raw, left_out=((2, "1 house"),)), typed),
    ],
    ids=[
        "row lost",
        "row twice",
        "cell lost",
        "missing sign untold",
        "cell lost in reading",
        "row used and left out",
    ],
)
def test_an_account_that_does_not_add_up_is_an_error_of_its_own(tmp_path, spoil):
    raw, typed = read(tmp_path)
    raw, typed = spoil(raw, typed)
    (finding,) = account(raw, typed).findings()
    assert (finding.code, finding.severity) == ("account-does-not-add-up", "error")
    assert "something is lost" in finding.message

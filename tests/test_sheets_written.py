"""The sheets as files: blind where they must be, large enough to use, loaded back unedited, never
over a record.
"""

import json
import re
import shutil
import subprocess
import tempfile
import zipfile
from functools import cache
from itertools import pairwise
from pathlib import Path

import numpy as np
import openpyxl
import pytest
from fairloaf.analysis import compare_formulas, crumb_scores, write_sheets
from fairloaf.analysis.cli import main
from fairloaf.analysis.sheets import make_sheets
from fairloaf.trials import TrialError, load_trial, read_trial
from fairloaf.trials.planning.kept import plan_mark
from fairloaf.trials.planning.plan import plan_trial
from fairloaf.trials.printing.paper import CELL_MM, CODE_PT, ROW_MM, TEXT_PT
from fairloaf.trials.reading.card_file import read_card

from .bench_kitchens import KITCHENS, rough_plan

SCORED = '\n[scores]\nattributes = ["airy", "soft"]\nassessors = 3\n'
FORMULAS = "\n".join(
    [
        "",
        "[dough]",
        "piece_g = 460",
        *(
            f"[formulas.{name}]\nflour = 100\nwater = 62\nsalt = 1.8"
            for name in ("house", "malted")
        ),
    ]
)
MM = 72 / 25.4


@cache
def drawn(name, more, days):
    """Return a plan of an example kitchen, of fewer days where they do not matter, and its
    files.
    """
    card = (
        re.sub(r"days = \d+", f"days = {days}", KITCHENS[name]["card"])
        if days
        else KITCHENS[name]["card"]
    )
    with tempfile.TemporaryDirectory() as made:
        (Path(made) / "trial.toml").write_text(card + more, "utf-8")
        plan = plan_trial(Path(made), seed=4)
        plan.save()
        return plan, {file.name: file.read_bytes() for file in Path(made).iterdir()}


def planned(folder, name="small_bakery", more="", days=None):
    """Put a plan's files into a folder and return it."""
    plan, files = drawn(name, more, days)
    folder.mkdir(exist_ok=True)
    for file, content in files.items():
        (folder / file).write_bytes(content)
    return plan


def test_what_is_filled_in_while_sheets_are_drawn_stays(tmp_path, monkeypatch):
    from fairloaf.analysis.sheets import write

    planned(tmp_path)
    filled = (tmp_path / "loaves.csv").read_text("utf-8").splitlines()
    filled[1] += "460"

    def somebody_types(*drawn):
        (tmp_path / "loaves.csv").write_text("\n".join(filled), "utf-8")
        return {}, []

    monkeypatch.setattr(write, "pdf_sheets", somebody_types)
    with pytest.raises(TrialError) as stop:
        write_sheets(tmp_path)
    assert [f.code for f in stop.value.findings] == ["records-there"]
    assert (tmp_path / "loaves.csv").read_text("utf-8").splitlines() == filled
    assert not (tmp_path / "loaves.xlsx").exists()


def pages_of(pdf, how="-layout"):
    """Return the text of each page, as it is laid out, or "-raw" in the order in which it was
    set.
    """
    if shutil.which("pdftotext") is None:
        pytest.skip("no pdftotext here: apt-get install poppler-utils")
    read = subprocess.run(
        ["pdftotext", how, str(pdf), "-"], capture_output=True, text=True, check=True
    )
    return read.stdout.split("\f")[:-1]


def words_of(pdf):
    """Return (page, word, x and y of its box, height of its letters in points)."""
    if shutil.which("pdftotext") is None:
        pytest.skip("no pdftotext here: apt-get install poppler-utils")
    read = subprocess.run(
        ["pdftotext", "-bbox", str(pdf), "-"], capture_output=True, text=True, check=True
    ).stdout
    found = []
    for at, page in enumerate(read.split("<page ")[1:]):
        for x0, y0, x1, y1, word in re.findall(
            r'xMin="(\S+)" yMin="(\S+)" xMax="(\S+)" yMax="(\S+)">(.*?)<', page
        ):
            found.append((at, word, float(x0), float(y0), float(x1), float(y1)))
    return found


def check_fit(pdf, paper):
    """Assert that every word is large enough, inside the margins, and overlaps no other."""
    width, height = {"a4": (210, 297), "letter": (215.9, 279.4)}[paper]
    here = []
    for page, word, x0, y0, x1, y1 in words_of(pdf):
        assert x0 >= 7 * MM, word
        assert x1 <= (width - 7) * MM, word
        assert y0 >= 4 * MM, word
        assert y1 <= (height - 4) * MM, word
        assert y1 - y0 >= TEXT_PT - 0.01, word
        here = [other for other in here if other[0] == page]
        for _, other, u0, v0, u1, v1 in here:
            # digits leave the lower quarter of their box free
            below = 0.25 * max(y1 - y0, v1 - v0)
            apart = x0 >= u1 - 1 or u0 >= x1 - 1 or y0 >= v1 - below or v0 >= y1 - below
            assert apart, (word, other)
        here.append((page, word, x0, y0, x1, y1))


def fill(folder, share=1.0):
    """Type measurements into the workbook as a baker would, for the first loaves of the sheet."""
    book, rng = openpyxl.load_workbook(folder / "loaves.xlsx"), np.random.default_rng(3)
    loaves = book["loaves"]
    headers = {cell.value: cell.column for cell in loaves[1]}
    done = []
    for row in range(2, 2 + round((loaves.max_row - 1) * share)):
        done.append(loaves.cell(row, 1).value)
        loaves.cell(row, headers["Baked mass (g)"]).value = round(410 + rng.normal(0, 2), 1)
        loaves.cell(row, headers["Cooling time (min)"]).value = 150
    for sheet, first in (("readings", 3), ("scores", 4)):
        for row in book[sheet].iter_rows(min_row=2) if sheet in book.sheetnames else ():
            if {row[0].value, row[1].value} & set(done):
                for cell in row[first - 1 : -1]:
                    cell.value = (
                        round(1700 + rng.normal(0, 15))
                        if sheet == "readings"
                        else int(rng.integers(3, 9))
                    )
    book.save(folder / "loaves.xlsx")
    return done


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    """The sheets of a kitchen with formulas and scores, on both papers."""
    folder = tmp_path_factory.mktemp("sheets") / "trial"
    plan = planned(folder, more=FORMULAS + SCORED)
    for paper in ("a4", "letter"):
        write_sheets(folder, paper=paper, out=folder / paper)
    return plan, folder


def test_every_sheet_is_there_and_the_workbook_takes_the_tables_place(written):
    _, folder = written
    assert sorted(p.name for p in (folder / "a4").iterdir()) == [
        "key.pdf",
        "labels.pdf",
        "measure.pdf",
        "run.pdf",
        "score.pdf",
        "weigh.pdf",
    ]
    assert sorted(p.name for p in folder.iterdir() if p.is_file()) == [
        "loaves.xlsx",
        "plan.csv",
        "plan.json",
        "trial.toml",
    ]


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("name", ["run", "weigh", "measure", "score", "labels", "key"])
def test_every_page_says_what_it_is_and_fits_its_paper(written, paper, name):
    plan, folder = written
    mark = plan_mark(plan)
    pages = pages_of(folder / paper / f"{name}.pdf")
    for at, text in enumerate(pages, 1):
        assert mark in text
        assert f"page {at} of {len(pages)}" in text
        assert re.search(r"[Dd]ay \d", text)
        assert ("Malt in the house loaf" in text) == (name in ("run", "weigh", "key"))
    check_fit(folder / paper / f"{name}.pdf", paper)


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_codes_are_large_and_rows_are_high_enough_to_write_in(written, paper):
    plan, folder = written
    for name in ("measure", "score"):
        words = words_of(folder / paper / f"{name}.pdf")
        codes = [word for word in words if word[1] in set(plan.loaves["loaf"])]
        assert all(y1 - y0 >= CODE_PT - 0.01 for *_, y0, _, y1 in codes)
        for (page, _, _, above, _, _), (same, _, _, below, _, _) in pairwise(codes):
            assert page != same or below - above >= (ROW_MM - 0.01) * MM
    heads = {
        word: x
        for page, word, x, *_ in words_of(folder / paper / "measure.pdf")
        if page == 0 and word in ("Mass", "Height")
    }
    assert heads["Height"] - heads["Mass"] >= 4 * (CELL_MM - 0.01) * MM
    labels = [
        word
        for word in words_of(folder / paper / "labels.pdf")
        if word[1] in set(plan.loaves["loaf"])
    ]
    assert all(y1 - y0 >= 39.99 for *_, y0, _, y1 in labels)


@pytest.mark.parametrize("name", KITCHENS)
def test_blind_sheets_say_nothing_of_formula_tin_or_place(name, tmp_path):
    plan = planned(tmp_path, name, SCORED)
    write_sheets(tmp_path)
    card = plan.card
    told = {str(level) for factor in ("formula", "tin") for level in card.factors.get(factor, ())}
    told |= {
        *card.kitchen.zones,
        *(
            str(level)
            for levels in card.factors.values()
            for level in levels
            if isinstance(level, str)
        ),
    }
    with zipfile.ZipFile(tmp_path / "loaves.xlsx") as book:
        texts = {part: book.read(part).decode("utf-8", "replace") for part in book.namelist()}
    cells = " ".join(texts[part] for part in texts if "sharedStrings" in part or "docProps" in part)
    names = " ".join(re.findall(r'<sheet name="(.*?)"', texts["xl/workbook.xml"]))
    assert not any(re.search(r"<f[ >]|<hyperlink", text) for text in texts.values())
    assert not [part for part in texts if "vba" in part.lower() or "externalLink" in part]
    blind = {
        kind: " ".join(pages_of(tmp_path / "sheets" / f"{kind}.pdf"))
        for kind in ("measure", "score", "labels")
    }
    for text in (*blind.values(), cells.replace("°C", ""), names):
        for word in told:
            assert not re.search(rf"(?<!\w){re.escape(word)}(?!\w)", text), word
    codes = list(plan.loaves["loaf"])
    counted = {
        kind: [len(re.findall(rf"(?<!\d){code}(?!\d)", text)) for code in codes]
        for kind, text in blind.items()
    }
    assert set(counted["measure"]) == {1}
    assert set(counted["score"]) == {3}
    assert set(counted["labels"]) == {2}
    key = " ".join(pages_of(tmp_path / "sheets" / "key.pdf"))
    assert all(len(re.findall(rf"(?<!\d){code}(?!\d)", key)) == 1 for code in codes)
    assert "keep from those who measure or score" in key
    assert all(word in key for word in told)


@pytest.mark.parametrize("share", [1.0, 0.5])
def test_the_filled_workbook_loads_unedited_and_answers(tmp_path, share):
    plan = planned(tmp_path, more=SCORED)
    write_sheets(tmp_path, forms=("xlsx",))
    done = fill(tmp_path, share)
    trial = load_trial(tmp_path)
    assert sorted(trial.loaves["loaf"]) == sorted(done)
    assert [
        trial.loaves[name].dtype.kind for name in ("loaf_g", "loaf_ml", "cool_min", "proof_min")
    ] == ["f"] * 4
    planned_formula = plan.loaves.set_index("loaf")["formula"]
    assert list(trial.loaves["formula"]) == [planned_formula[code] for code in trial.loaves["loaf"]]
    assert len(trial.readings) == 3 * len(done)
    assert len(trial.scores) == 2 * 3 * len(done)
    assert {f.code for f in trial.findings if f.severity == "note"} == (
        set() if share == 1 else {"not-baked-yet"}
    )
    assert compare_formulas(trial).sentence


def test_a_loaf_beside_the_plan_is_told(tmp_path):
    planned(tmp_path, days=2)
    write_sheets(tmp_path, forms=("xlsx",))
    fill(tmp_path)
    book = openpyxl.load_workbook(tmp_path / "loaves.xlsx")
    book["loaves"].append(["999", None, None, 400])
    book.save(tmp_path / "loaves.xlsx")
    found = next(f for f in read_trial(tmp_path).errors if f.code == "code-not-planned")
    assert found.message.startswith("999 on line")


def test_a_loaf_with_readings_alone_counts_as_baked(tmp_path):
    planned(tmp_path, days=2)
    write_sheets(tmp_path, forms=("xlsx",))
    book = openpyxl.load_workbook(tmp_path / "loaves.xlsx")
    book["readings"].cell(2, 3).value = 1700
    book.save(tmp_path / "loaves.xlsx")
    trial = read_trial(tmp_path)
    assert list(trial.loaves["loaf"]) == [book["loaves"].cell(2, 1).value]
    assert "reading-of-no-loaf" not in {f.code for f in trial.findings}


@pytest.mark.parametrize("assessors", ["", "assessors = 3\n"])
def test_scores_that_nobody_has_given_yet_stop_nothing(tmp_path, assessors):
    planned(tmp_path, more=SCORED.replace("assessors = 3\n", assessors), days=2)
    write_sheets(tmp_path, forms=("xlsx",))
    fill(tmp_path)
    book = openpyxl.load_workbook(tmp_path / "loaves.xlsx")
    for row in book["scores"].iter_rows(min_row=2, min_col=4):
        for cell in row:
            cell.value = None
    book.save(tmp_path / "loaves.xlsx")
    trial = load_trial(tmp_path)
    assert (len(trial.loaves), len(trial.scores)) == (24, 0)
    assert compare_formulas(trial).sentence
    with pytest.raises(TrialError):
        crumb_scores(trial)


def test_the_workbook_is_typed_locked_and_checked(tmp_path):
    planned(tmp_path, more=SCORED, days=2)
    write_sheets(tmp_path, forms=("xlsx",))
    book = openpyxl.load_workbook(tmp_path / "loaves.xlsx")
    assert book.sheetnames == ["loaves", "readings", "scores"]
    for sheet in book:
        assert sheet.protection.sheet
        assert sheet.freeze_panes == "B2"
        assert {rule.errorStyle for rule in sheet.data_validations.dataValidation} == {"warning"}
    loaves = book["loaves"]
    assert isinstance(loaves["A2"].value, str)
    assert loaves["A2"].protection.locked
    assert not any(cell.protection.locked for cell in loaves[2][1:])
    rules = {str(rule.sqref).split(":")[0]: rule for rule in loaves.data_validations.dataValidation}
    assert "dropped" in rules["G2"].formula1
    assert (rules["D2"].formula1, rules["D2"].formula2) == ("15", "3000")


def test_the_same_plan_gives_the_same_bytes(tmp_path):
    for name in ("one", "two"):
        planned(tmp_path / name, more=FORMULAS + SCORED, days=2)
    one, two = (write_sheets(tmp_path / name) for name in ("one", "two"))
    assert [path.read_bytes() for path in one] == [path.read_bytes() for path in two]


def code_of(stopped):
    return [finding.code for finding in stopped.value.findings]


def test_no_plan(tmp_path):
    with pytest.raises(TrialError) as stopped:
        write_sheets(tmp_path)
    assert code_of(stopped) == ["no-plan"]
    assert stopped.value.findings[0].fix == f"Draw it first:  fairloaf plan {tmp_path}"


def test_a_changed_plan_is_refused_with_its_lines(tmp_path):
    planned(tmp_path)
    lines = (tmp_path / "plan.csv").read_text("utf-8").splitlines()
    lines[3] = (
        lines[3].replace("lidded", "open")
        if "lidded" in lines[3]
        else lines[3].replace("open", "lidded")
    )
    (tmp_path / "plan.csv").write_text("\r\n".join(lines) + "\r\n", "utf-8")
    with pytest.raises(TrialError) as stopped:
        write_sheets(tmp_path)
    [found] = stopped.value.findings
    assert (found.code, found.rows) == ("plan-changed", (4,))
    assert "it differs on line 4" in found.message
    assert "fairloaf plan" in found.fix
    assert "--again" in found.fix
    assert not (tmp_path / "sheets").exists()


def test_other_line_ends_are_no_change(tmp_path):
    planned(tmp_path, days=2)
    key = tmp_path / "plan.csv"
    key.write_bytes(key.read_bytes().replace(b"\n", b"\r\n"))
    assert write_sheets(tmp_path, forms=("pdf",))


@pytest.mark.parametrize("table", ["loaves.csv", "loaves.xlsx"])
def test_records_stay_and_the_pdfs_are_written_alone(tmp_path, table):
    planned(tmp_path, days=2)
    if table == "loaves.csv":
        text = (tmp_path / table).read_text("utf-8").splitlines()
        text[1] = text[1].replace(",", ",25", 1)
        (tmp_path / table).write_text("\n".join(text), "utf-8")
    else:
        write_sheets(tmp_path, forms=("xlsx",))
        fill(tmp_path, 0.1)
    before = (tmp_path / table).read_bytes()
    with pytest.raises(TrialError) as stopped:
        write_sheets(tmp_path)
    assert code_of(stopped) == ["records-there"]
    assert not (tmp_path / "sheets").exists()
    assert write_sheets(tmp_path, forms=("pdf",))
    assert (tmp_path / table).read_bytes() == before


def test_an_empty_workbook_is_written_anew_and_gives_way_to_another_plan(tmp_path):
    planned(tmp_path, days=2)
    write_sheets(tmp_path)
    openpyxl.load_workbook(tmp_path / "loaves.xlsx").save(tmp_path / "loaves.xlsx")
    write_sheets(tmp_path, paper="letter")
    plan_trial(tmp_path, seed=9).save(again=True)
    assert (tmp_path / "loaves.csv").exists()
    assert not (tmp_path / "loaves.xlsx").exists()


def test_the_bakers_own_columns_stay_in_the_workbook(tmp_path):
    planned(tmp_path, days=2)
    table = tmp_path / "loaves.csv"
    lines = table.read_text("utf-8").splitlines()
    table.write_text(
        "\n".join([lines[0] + ",crust L,tin type", *(line + ",," for line in lines[1:])]), "utf-8"
    )
    write_sheets(tmp_path, forms=("xlsx",))
    write_sheets(tmp_path, forms=("xlsx",))
    headers = [cell.value for cell in openpyxl.load_workbook(tmp_path / "loaves.xlsx")["loaves"][1]]
    assert "crust L" in headers
    assert "tin type" not in headers


def test_files_of_others_and_folders_that_cannot_be_stay(tmp_path):
    planned(tmp_path, days=2)
    (tmp_path / "sheets").mkdir()
    (tmp_path / "sheets" / "run.pdf").write_bytes(b"%PDF-1.7 notes on a fairloaf sheet")
    with pytest.raises(TrialError) as stopped:
        write_sheets(tmp_path)
    assert code_of(stopped) == ["file-in-the-way"]
    with pytest.raises(TrialError) as stopped:
        write_sheets(tmp_path, out=tmp_path / "trial.toml" / "sheets")
    assert code_of(stopped) == ["cannot-write"]
    assert sorted(p.name for p in tmp_path.iterdir()) == [
        "loaves.csv",
        "plan.csv",
        "plan.json",
        "sheets",
        "trial.toml",
    ]
    assert [p.name for p in (tmp_path / "sheets").iterdir()] == ["run.pdf"]


def test_what_is_left_out_is_said(tmp_path):
    planned(tmp_path, days=2)
    made = make_sheets(tmp_path, forms=("pdf",))
    assert [path.stem for path in made.paths] == ["run", "measure", "labels", "key"]
    assert [(f.code, f.severity) for f in made.findings] == [
        ("no-formula", "note"),
        ("no-scores", "note"),
    ]


def test_wrong_calls(tmp_path):
    planned(tmp_path, days=2)
    with pytest.raises(ValueError, match="the paper is a4 or letter, not 'a5'"):
        write_sheets(tmp_path, paper="a5")
    with pytest.raises(ValueError, match="forms are pdf and xlsx, not 'doc'"):
        write_sheets(tmp_path, forms=("doc",))


def test_the_command(tmp_path, capsys, monkeypatch):
    planned(tmp_path, days=2)
    monkeypatch.setattr(
        "sys.argv", ["fairloaf", "sheets", str(tmp_path), "--form", "pdf", "--json"]
    )
    with pytest.raises(SystemExit, match="0"):
        main()
    said = json.loads(capsys.readouterr().out)
    assert [path.rpartition("/")[2] for path in said["paths"]] == [
        "run.pdf",
        "measure.pdf",
        "labels.pdf",
        "key.pdf",
    ]
    monkeypatch.setattr("sys.argv", ["fairloaf", "sheets", str(tmp_path), "--paper", "a5"])
    with pytest.raises(SystemExit, match="2"):
        main()


def test_hostile_names_stay_words(tmp_path):
    """Sixty formulas, names of eighty letters, writing from the right, markup: nothing acts, all is
    named.
    """
    names = [f"formula {i} " + "x" * 68 for i in range(57)] + [
        "#panic[*no*] $x$ \\\\",
        "שלום עולם",
        "<script>alert(1)</script>",
    ]
    card = "\n".join(
        [
            'title = "#eval(1) <b>"',
            'measure = "specific_volume"',
            "[factors]",
            "formula = [" + ", ".join(json.dumps(name) for name in names) + "]",
            "[kitchen]",
            "days = 1",
            "mixes_a_day = 60",
            "loaves_a_mix = 1",
            "oven_places = 60",
        ]
    )
    (tmp_path / "trial.toml").write_text(card, "utf-8")
    rough_plan(read_card(card)).save(tmp_path)
    write_sheets(tmp_path)
    key = re.sub(r"\s", "", "".join(pages_of(tmp_path / "sheets" / "key.pdf", "-raw")))
    assert "#panic[*no*]$x$" in key
    assert "<script>alert(1)</script>" in key
    assert key.count("x" * 68) == 57
    for name in ("run", "key"):
        check_fit(tmp_path / "sheets" / f"{name}.pdf", "a4")

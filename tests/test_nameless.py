"""What is written for a class names nobody, in any of its forms; the record keeps everything."""

from __future__ import annotations

import io
import zipfile

import pymupdf
import pytest
from fairloaf.analysis import write_report
from fairloaf.analysis.report import FORMS
from fairloaf.analysis.report.nameless import nameless
from fairloaf.trials import load_trial

NAMES = ("Annika", "Bertold", "Celeste", "Doro-Mia")
PRIVATE = (*NAMES, "0170 555", "annika@example.invalid", "dropped by")


@pytest.fixture(scope="module")
def trial(tmp_path_factory):
    """Invented pupils who baked and scored, with a column of contacts, notes and a void loaf."""
    folder = tmp_path_factory.mktemp("named") / "morning"
    folder.mkdir()
    rows = ["loaf,baker,mix,formula,loaf_g,loaf_ml,Contact,note,void"]
    for n in range(1, 17):
        person, formula = NAMES[(n - 1) // 4], ("white", "oat")[n % 2]
        void = "dropped by Annika" if n == 16 else ""
        rows.append(
            f"{n},{person},{person[0]}{formula},{formula},{400 + n % 3},{1600 + 17 * (n % 5)},"
            f"annika@example.invalid,ring 0170 555,{void}"
        )
    (folder / "loaves.csv").write_text("\n".join(rows), "utf-8")
    scores = [
        f"{n},{person},soft,{3 + (n + len(person)) % 5}" for n in range(1, 17) for person in NAMES
    ]
    (folder / "scores.csv").write_text(
        "\n".join(["loaf,assessor,attribute,score", *scores]), "utf-8"
    )
    return load_trial(folder)


@pytest.fixture(scope="module")
def for_class(trial, tmp_path_factory):
    """Return what is written for a class, in every form."""
    return write_report(trial, tmp_path_factory.mktemp("class"), "class", FORMS)


@pytest.fixture(scope="module")
def for_record(trial, tmp_path_factory):
    """Return what is written for the record."""
    return write_report(trial, tmp_path_factory.mktemp("record"), "record", ["json", "pdf"])


def words_in(path):
    """Return everything that a file holds as text, a workbook's parts unpacked."""
    content = path.read_bytes()
    if path.suffix == ".pdf":
        with pymupdf.open(path) as pages:
            said = " ".join(page.get_text() for page in pages)
            return f"{said} {pages.metadata} {pages.get_toc()} {pages.get_xml_metadata()}"
    if path.suffix != ".xlsx":
        return content.decode("utf-8", "replace")
    with zipfile.ZipFile(io.BytesIO(content)) as book:
        return " ".join(book.read(name).decode("utf-8", "replace") for name in book.namelist())


def test_nothing_for_a_class_names_anybody(for_class):
    assert len(for_class.files) == len(FORMS)
    for path in for_class.files:
        said = words_in(path)
        assert [word for word in PRIVATE if word in said] == [], path.name
        assert "oat" in said, path.name


def test_the_record_keeps_everything(for_record):
    data, paper = for_record.files
    assert [word for word in PRIVATE if word not in words_in(data)] == []
    assert [word for word in NAMES if word not in words_in(paper)] == []


def test_people_get_codes_and_codes_stay(trial):
    coded = nameless(trial)
    assert sorted(coded.loaves["baker"].unique()) == ["baker 1", "baker 2", "baker 3", "baker 4"]
    assert coded.loaves["baker"].nunique() == trial.loaves["baker"].nunique()
    assert "note" not in coded.loaves
    assert "Contact" not in " ".join(coded.loaves.columns)
    again = nameless(coded)
    assert again.loaves["baker"].tolist() == coded.loaves["baker"].tolist()


def test_the_answer_is_the_same_without_names(for_class, for_record):
    assert for_class.answer == for_record.answer

"""Which words tell the breads apart: fields, laws, and the sentences that people read."""

from __future__ import annotations

import json

import numpy as np
import pytest
from fairloaf.analysis import words_seen
from fairloaf.trials import TrialError, load_trial

from .tasting_trial import written

LOAVES = ["loaf,formula,mix,day", "1,house,a,d1", "2,house,b,d2", "3,malted,c,d1", "4,malted,d,d2"]
CODES = ["code,loaf", "123,1", "234,2", "345,3", "456,4"]
CARD = """
control = "house"
[factors]
formula = ["house", "malted"]
[words]
taste = ["sour", "nutty"]
bite = ["chewy"]
"""
LIKELY = {
    "sour": (0.1, 0.1, 0.9, 0.9),
    "nutty": (0.4, 0.4, 0.4, 0.4),
    "chewy": (0.3, 0.3, 0.3, 0.3),
}


def ticked(people: int = 24, seed: int = 1, likely=LIKELY, table: bool = False) -> list[str]:
    rng = np.random.default_rng(seed)
    rows = [f"assessor,code,{'table,' if table else ''}{','.join(likely)}"]
    for n in range(people):
        for loaf, code in enumerate(("123", "234", "345", "456")):
            ticks = ["x" if rng.random() < shares[loaf] else "" for shares in likely.values()]
            rows.append(f"p{n},{code},{f't{n // 4},' if table else ''}{','.join(ticks)}")
    return rows


def seen(folder, rows=None, by="loaf", **files):
    files = {
        "loaves": LOAVES,
        "codes": CODES,
        "card": CARD,
        "tasting": None,
        "words": rows or ticked(),
    } | files
    return words_seen(load_trial(written(folder, **files)), by=by)


def test_a_word_that_tells_comes_first_with_its_pairs(tmp_path):
    found = seen(tmp_path)
    assert found.words["word"].iloc[0] == "sour"
    assert found.words["tells_apart"].tolist() == [True, False, False]
    assert (found.n_assessors, found.n_units, found.unit, found.n_looks) == (24, 24, "assessor", 96)
    assert found.words["df"].tolist() == [3, 3, 3]
    assert found.pairs[["loaf", "against"]].to_numpy().tolist() == [
        ["1", "2"],
        ["1", "3"],
        ["1", "4"],
        ["2", "3"],
        ["2", "4"],
        ["3", "4"],
    ]
    assert found.pairs["differs"].tolist() == [False, True, True, True, True, False]
    assert found.words["heading"].tolist()[0] == "taste"
    assert found.shares.loc["sour", "3"] > 0.7
    assert found.p_together < 0.001
    told = found.words.iloc[0]
    assert told["kappa_low"] < told["kappa"] < told["kappa_high"]
    assert (
        found.sentence
        == "24 people looked at 4 loaves: of 3 words, 1 tells these loaves apart: sour (all words "
        "together, p < 0.001)."
    )
    assert "That is the bread's doing, and not that of those who looked" in " ".join(
        found.sentences
    )
    json.dumps(found.to_dict(), allow_nan=False)


def test_no_person_is_named_or_ranked(tmp_path):
    found = seen(tmp_path)
    assert "p7" not in json.dumps(found.to_dict())


def test_where_nothing_differs_nothing_is_called_the_same(tmp_path):
    found = seen(
        tmp_path,
        ticked(likely={"sour": (0.4,) * 4, "nutty": (0.2,) * 4, "chewy": (0.5,) * 4}, seed=5),
    )
    assert not found.words["tells_apart"].any()
    assert found.pairs.empty
    assert found.sentence.startswith(
        "24 people looked at 4 loaves: none of the 3 words is shown to tell"
    )
    assert "nor does it show that the loaves are the same" in " ".join(found.sentences)


def test_order_of_rows_and_names_of_people_change_nothing(tmp_path):
    rows = ticked()
    found = seen(tmp_path, rows).to_dict()
    turned = seen(tmp_path, [rows[0], *(row.replace("p", "q", 1) for row in rows[:0:-1])]).to_dict()
    assert turned == found


def test_a_list_of_words_says_the_same_as_a_column_each(tmp_path):
    wide = ticked()
    words = wide[0].split(",")[2:]
    listed = ["assessor,code,words"]
    for row in wide[1:]:
        who, code, *ticks = row.split(",")
        listed.append(
            f"{who},{code},{'; '.join(w for w, tick in zip(words, ticks, strict=True) if tick)}"
        )
    assert seen(tmp_path, listed).to_dict() == seen(tmp_path, wide).to_dict()


def test_a_column_of_order_is_a_word_where_the_card_says_so(tmp_path):
    rows = [row.replace("chewy", "order") for row in ticked()]
    assert set(seen(tmp_path, rows, card=CARD.replace("chewy", "order")).words["word"]) == {
        "sour",
        "nutty",
        "order",
    }
    assert set(seen(tmp_path, rows).words["word"]) == {"sour", "nutty"}


def test_tables_count_and_not_people(tmp_path):
    """Four at each table with one sheet between them: 24 people are six tables."""
    rows = ticked(table=True)
    sheet = {row.split(",")[2] + row.split(",")[1]: row.split(",")[3:] for row in rows[1:]}
    copied = [
        rows[0],
        *(
            ",".join([*row.split(",")[:3], *sheet[row.split(",")[2] + row.split(",")[1]]])
            for row in rows[1:]
        ),
    ]
    found, alone = (
        seen(tmp_path, copied),
        seen(tmp_path, [rows[0].replace("table", "note"), *copied[1:]]),
    )
    assert (found.unit, found.n_units, found.n_assessors) == ("table", 6, 24)
    assert (
        found.words.set_index("word").loc["sour", "p_value"]
        > alone.words.set_index("word").loc["sour", "p_value"]
    )
    assert any("6 tables are counted, and not people" in line for line in found.sentences)


def test_a_twin_is_judged_as_one_loaf(tmp_path):
    codes = [*CODES[:-1], "456,3"]
    found = seen(tmp_path, codes=codes)
    assert found.loaves["loaf"].tolist() == ["1", "2", "3"]
    twin = found.twins.iloc[0]
    assert (twin["loaf"], twin["code"], twin["against_code"], twin["n_units"]) == (
        "3",
        "345",
        "456",
        24,
    )
    assert 0 < twin["same_elsewhere"] < twin["same_answer"] < 1
    assert any(line.startswith("Loaf 3 stood there under two codes") for line in found.sentences)


def test_by_formula_dough_is_held_against_dough(tmp_path):
    found = seen(tmp_path, by="formula").formulas.set_index("word")
    row = found.loc["sour"]
    assert (row["formula"], row["against"], row["doughs"], row["against_doughs"]) == (
        "malted",
        "house",
        2,
        2,
    )
    assert row["difference"] == pytest.approx(0.8, abs=0.15)
    # one relabelling in two, both ways, on each of two days
    assert row["smallest_p"] == row["p_value"] == 0.5
    assert seen(tmp_path).formulas.empty


def test_words_not_judged_and_looks_not_made_are_no_ticks(tmp_path):
    rows = ticked()
    rows[1] = rows[1].rsplit(",", 1)[0] + ",?"
    del rows[6]
    found = seen(tmp_path, rows)
    assert found.n_looks == 95
    assert found.loaves.set_index("loaf").loc["2", "n_looks"] == 23
    assert np.isfinite(found.words["q"]).all()


@pytest.mark.parametrize(
    ("rows", "code"),
    [
        (["assessor,code,sour", "p1,123,x", "p1,234,", "p2,345,x", "p2,456,"], "breads-not-joined"),
        (["assessor,code,sour", "p1,123,x", "p2,123,"], "words-too-few"),
    ],
)
def test_what_cannot_be_judged_is_refused_with_the_fix(rows, code, tmp_path):
    with pytest.raises(TrialError) as stopped:
        seen(tmp_path, rows)
    assert [f.code for f in stopped.value.findings] == [code]


def test_a_word_that_nobody_ticked_is_no_statistic(tmp_path):
    found = seen(tmp_path, ticked(likely=LIKELY | {"burnt": (0.0,) * 4}))
    row = found.words.set_index("word").loc["burnt"]
    assert (row["ticks"], row["tells_apart"]) == (0, False)
    assert np.isnan([row["q"], row["p_value"], row["kappa"]]).all()
    assert found.words["word"].iloc[-1] == "burnt"


def test_who_only_ticks_words_is_told_the_allergens_too(tmp_path, capsys, monkeypatch):
    """In the answer and on every page, where no tasting told them before."""
    from fairloaf.analysis.cli import main
    from fairloaf.analysis.report import write_report

    card = f"{CARD}[tasting]\nallergens = ['gluten', 'sesame']\n"
    files = {"loaves": LOAVES, "codes": CODES, "card": card, "tasting": None, "words": ticked()}
    folder = written(tmp_path, **files)
    monkeypatch.setattr("sys.argv", ["fairloaf", "words", str(folder)])
    with pytest.raises(SystemExit):
        main()
    assert capsys.readouterr().out.count("Allergens: every bread: gluten and sesame.") == 1
    for reader in ("class", "bakery", "record"):
        (path,) = write_report(
            load_trial(folder), audience=reader, forms=["json"], out=tmp_path / reader
        ).files
        assert path.read_text("utf-8").count("Allergens: every bread: gluten and sesame.") == 1

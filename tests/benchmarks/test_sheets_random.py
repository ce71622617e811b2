"""Sheets of two hundred random plans, page by page, and what all sheets of a plan cost in processor
time.
"""

import re
import shutil
import subprocess
import time

import numpy as np
import pytest
from fairloaf.analysis.sheets import make_sheets
from fairloaf.trials.planning.plan import plan_trial
from fairloaf.trials.reading.card_file import read_card

from ..bench_kitchens import KITCHENS, random_kitchen, rough_plan

pytestmark = pytest.mark.benchmark

HEADED = {
    "measure": r"Code$",
    "score": r"Code$",
    "key": r"Code$",
    "run": r"What$",
    "weigh": r"Ingredient$",
}
ROW = {
    "measure": r"\d{3,4}$",
    "score": r"\d{3,4}$",
    "key": r"\d{3,4}$",
    "weigh": r"[\d.]+$",
    "run": r"(Weigh|Mix|Divide|Into|Out|Measure)",
}


def random_trial(rng):
    """Return a card of a random kitchen with formulas, scores and measures of its own."""
    attributes = [f"attribute {i}" for i in range(rng.integers(1, 10))]
    return random_kitchen(rng) + "\n".join(
        [
            "",
            "[measures.firmness]",
            "matters = 1",
            "[scores]",
            f"attributes = {attributes}".replace("'", '"'),
            f"assessors = {rng.integers(1, 7)}",
            "[dough]",
            f"piece_g = {rng.integers(50, 900)}",
            *(
                f"[formulas.{name}]\nflour = 100\n"
                + "\n".join(f"part_{i} = {i + 1}" for i in range(rng.integers(1, 22)))
                for name in "AB"
            ),
        ]
    )


def boxes(pdf):
    """Return the pages as lists of (word, y)."""
    read = subprocess.run(
        ["pdftotext", "-bbox", str(pdf), "-"], capture_output=True, text=True, check=True
    ).stdout
    return [
        [
            (word, float(y))
            for y, word in re.findall(r'yMin="(\S+)" xMax="\S+" yMax="\S+">(.*?)<', page)
        ]
        for page in read.split("<page ")[1:]
    ]


def test_two_hundred_random_plans(tmp_path):
    if shutil.which("pdftotext") is None:
        pytest.skip("no pdftotext here: apt-get install poppler-utils")
    pages = 0
    for seed in range(200):
        folder = tmp_path / str(seed)
        folder.mkdir()
        card = random_trial(np.random.default_rng(seed))
        (folder / "trial.toml").write_text(card, "utf-8")
        rough_plan(read_card(card)).save(folder)
        made = make_sheets(folder, paper=("a4", "letter")[seed % 2])
        for path in made.paths[:-1]:
            for page in boxes(path):
                pages += 1
                assert made.mark in [word for word, _ in page], (seed, path.stem)
                for word, y in page:
                    if path.stem in HEADED and re.match(HEADED[path.stem], word):
                        assert any(
                            re.match(ROW[path.stem], other)
                            for other, below in page
                            if below > y + 2
                        ), (seed, path.stem)
        shutil.rmtree(folder)
    print(f"\n{pages} pages, each with its mark, no header alone")


def test_what_all_sheets_of_a_plan_cost(tmp_path):
    (tmp_path / "trial.toml").write_text(
        KITCHENS["small_bakery"]["card"]
        + '[scores]\nattributes = ["airy", "soft"]\nassessors = 6\n',
        "utf-8",
    )
    plan_trial(tmp_path, seed=1).save()
    make_sheets(tmp_path)
    began = time.process_time()
    make_sheets(tmp_path)
    print(f"\nall sheets of 48 loaves: {time.process_time() - began:.2f} s of processor time")

"""One tasting drawn from a seed: served, written, loaded back, and counted by hand."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path

import numpy as np
from fairloaf.analysis.sheets.serving import record_files, serve_tasting, serving_plans
from fairloaf.trials import load_trial
from fairloaf.trials.loading import read_trial
from fairloaf.trials.printing.paper import PAPERS
from fairloaf.trials.tasting.kinds import KINDS

TESTS = (*KINDS, "looking")


def faults(seed: int, folder: Path, sheets: bool = True) -> list[str]:
    """Serve a tasting of this seed in an empty folder and return what is wrong with what loads
    back; without ``sheets`` only the key and the records are written, which is all that is loaded.
    """
    rng = np.random.default_rng([18, seed])
    test = TESTS[seed % len(TESTS)]
    formulas = [f"bread {letter}" for letter in "abcdefgh"[: int(rng.integers(2, 9))]]
    people, repeats = int(rng.integers(2, 31)), int(rng.integers(1, 3))
    folder.mkdir()
    loaves = [
        f"{name[-1]}{n},{name},{name[-1]}{n}" for name in formulas for n in range(1, 2 + seed % 2)
    ]
    (folder / "loaves.csv").write_text("\n".join(["loaf,formula,mix", *loaves]), "utf-8")
    card = 'control = "bread a"\n[tasting]\nallergens = ["gluten"]\nexpected = ["bread a"]\n'
    words = '[words]\ntaste = ["sour", "sweet"]\n' if test == "looking" else ""
    (folder / "trial.toml").write_text(card + words, "utf-8")
    trial = read_trial(folder)  # nothing is measured yet
    given, paper = None if test == "looking" else test, ("a4", "letter")[seed % 2]
    if sheets:
        plan = serve_tasting(
            trial, folder, people, seed, given, "bread b", repeats=repeats, paper=paper
        ).plans[0]
    else:
        plans = serving_plans(trial, people, seed, given, "bread b", None, repeats)
        for name, content in record_files(trial, plans, PAPERS[paper]).items():
            (folder / name).write_bytes(content)
        plan = plans[0]
    there = load_trial(folder)
    told = [f.message for f in there.findings if f.severity == "error"]
    told += [f.code for f in there.findings if f.code == "places-uneven"]
    loaf = dict(zip(there.codes["code"], there.codes["loaf"], strict=True))
    formula = dict(zip(there.loaves["loaf"], there.loaves["formula"], strict=True))
    if loaf != dict(plan.key):
        told.append("another key")
    if test == "looking":
        looks = there.words.drop_duplicates("line").sort_values("line")
        looks = looks.assign(order=looks["order"].astype(int))
        rows = [
            ((who, repeat), "", tuple(part.sort_values("order")["code"]))
            for (who, repeat), part in looks.groupby(["assessor", "repeat"], sort=False)
        ]
    else:
        rows = [
            ((row.assessor, row.repeat), row.reference, tuple(row.served.split()))
            for row in there.tasting.fillna("").itertuples()
        ]
    planned = [
        ((row["assessor"], row["repeat"]), row["reference"], tuple(row["served"].split()))
        for row in plan.rows
    ]
    if rows != planned:
        told.append("other servings")
    breads = [
        tuple(
            loaf[c] if test == "looking" else formula[loaf[c]] for c in (*([r] if r else []), *cups)
        )
        for _, r, cups in rows
    ]
    kind = KINDS.get(test)
    if kind is not None and kind.orders:
        every = {tuple(plan.breads[place] for place in order) for order in kind.orders}
        return told + _uneven(breads, every)
    return told + _not_square(breads)


def _uneven(orders: Sequence[tuple[str, ...]], every: set[tuple[str, ...]]) -> list[str]:
    """Return a fault where an order is none of the test's, or served twice more often than
    another.
    """
    found = Counter(orders)
    least = min(found.get(order, 0) for order in every)
    return [] if set(found) <= every and max(found.values()) - least <= 1 else ["uneven orders"]


def _not_square(orders: Sequence[tuple[str, ...]]) -> list[str]:
    """Return a fault where breads do not stand in every place, or behind every other, as often as
    the number of people lets them.
    """
    breads = sorted(set(orders[0]))
    told = [] if all(sorted(order) == breads for order in orders) else ["a bread left out"]
    square = len(breads) if len(breads) % 2 == 0 else 2 * len(breads)
    places = Counter((i, bread) for order in orders for i, bread in enumerate(order))
    pairs = Counter(pair for order in orders for pair in pairwise(order))
    whole, over = divmod(len(orders), square)
    most = whole * square // len(breads) + over  # of what is left nothing is promised but this
    if max(places.values()) > most or max(pairs.values()) > most:
        told.append("uneven places")
    if over == 0 and (len(set(places.values())), len(set(pairs.values()))) != (1, 1):
        told.append("no square")
    return told

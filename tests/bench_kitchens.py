"""Kitchens with a plan-like table of loaves, and a checker of timetables that knows nothing of how
they are made.
"""

from __future__ import annotations

import itertools
import json
from collections import Counter
from pathlib import Path

import numpy as np
import pandas as pd
from fairloaf.trials.card import TrialCard
from fairloaf.trials.planning.result import TrialPlan
from fairloaf.trials.planning.timetable import Timetable
from fairloaf.trials.reading.card_file import read_card

REFERENCE = Path(__file__).parent / "reference"
KITCHENS = {
    k["name"]: k for k in json.loads((REFERENCE / "kitchens_public.json").read_text("utf-8"))
}
BY_LOAF = ("tin", "proof_min", "dough_g")
BY_LOAD = ("oven_c", "bake_min", "steam")


def planning_check(name: str) -> list:
    """Return the expected values of one entry of planning_checks.json."""
    entries = json.loads((REFERENCE / "planning_checks.json").read_text("utf-8"))
    return next(entry["expected"] for entry in entries if entry["name"] == name)


def rough_plan(card: TrialCard) -> TrialPlan:
    """Return a plan of the right size whose order is not drawn: what bench work needs, and no fair
    trial.
    """
    k, rows = card.kitchen, []
    by_loaf = {f: v for f, v in card.factors.items() if f in BY_LOAF}
    combinations = list(itertools.product(*by_loaf.values())) or [()]
    by_mix = {f: v for f, v in card.factors.items() if f not in (*BY_LOAF, *BY_LOAD)}
    zones = [zone for zone, n in k.zones.items() for _ in range(n)]
    mix = 0
    for day in range(1, k.days + 1):
        order = 0
        for baker, turn in itertools.product(range(1, k.bakers + 1), range(1, k.mixes_a_day + 1)):
            mix += 1
            for i in range(k.loaves_a_mix):
                order += 1
                row = {
                    "loaf": str(100 + len(rows)),
                    "day": str(day),
                    "mix": str(mix),
                    "mix_order": turn,
                    "bake_order": order,
                    "measure_order": order,
                    "baker": f"baker {baker}",
                }
                if zones:
                    row["oven_place"] = zones[(order - 1) % len(zones)]
                if k.loads_a_day:
                    load = (turn - 1) * k.loads_a_day // k.mixes_a_day
                    row["oven_load"] = str((day - 1) * k.loads_a_day + load + 1)
                    row |= {f: v[load % len(v)] for f, v in card.factors.items() if f in BY_LOAD}
                row |= {f: v[(mix - 1) % len(v)] for f, v in by_mix.items()}
                row |= dict(zip(by_loaf, combinations[i % len(combinations)], strict=True))
                rows.append(row)
    loaves = pd.DataFrame(rows)
    return TrialPlan(
        card=card,
        seed=1,
        draws=1,
        loaves=loaves,
        mixes=loaves.drop_duplicates("mix"),
        layout="complete days",
        inside="loaves alike",
        loads="none",
        made_per=dict.fromkeys(card.factors, "mix"),
    )


def random_card(rng: np.random.Generator) -> TrialCard:
    """Return the card of a kitchen drawn at random: loads or not, zones or not, one baker or
    several.
    """
    return read_card(random_kitchen(rng))


def random_kitchen(rng: np.random.Generator) -> str:
    """Return the text of such a card."""
    loads = int(rng.choice([0, 0, 1, 2]))
    mixes = int(rng.integers(1, 7)) if not loads else loads * int(rng.integers(1, 4))
    proofs = [[60], [45, 75], [45, 60, 75]][rng.integers(3)]
    loaves = len(proofs) * int(rng.integers(1, 4))
    bakers = int(rng.choice([1, 1, 1, 2, 3])) if not loads else 1
    places = int(rng.integers(loaves, 3 * loaves + 1)) if not loads else mixes * loaves // loads
    zones = rng.random() < 0.3 and not loads
    rest = int(rng.integers(30, 90))
    lines = [
        'measure = "specific_volume"',
        'proof_to = "time"',
        "[factors]",
        'formula = ["A", "B"]',
        f"proof_min = {proofs}" if len(proofs) > 1 else "",
        "[kitchen]",
        "days = 1",
        f"mixes_a_day = {mixes}",
        f"loaves_a_mix = {loaves}",
        f"bakers = {bakers}",
        f"hands = {int(rng.integers(1, 3)) + bakers - 1}",
        f"loads_a_day = {loads}" if loads else "",
        (
            f"oven_places = {{ front = {places}, back = {places} }}"
            if zones
            else f"oven_places = {places}"
        ),
        'opens = "06:30"',
        f'closes = "{int(rng.integers(12, 22))}:00"',
        "[minutes]",
        f"weigh = {int(rng.integers(2, 8))}",
        f"mix = {int(rng.integers(8, 20))}",
        f"attend = {int(rng.integers(1, 8))}",
        f"rest = [{rest}, {rest + int(rng.integers(0, 30)) + (25 * mixes if loads else 0)}]",
        f"shape = {int(rng.integers(1, 4))}",
        "proof = 60",
        f"late = {int(rng.integers(0, 10))}",
        f"fill = {int(rng.integers(1, 4))}",
        f"bake = {int(rng.integers(20, 45))}",
        f"empty = {int(rng.integers(1, 4))}",
        f"cool = [{int(rng.integers(30, 120))}, {int(rng.integers(200, 600))}]",
        f"measure = {int(rng.integers(1, 5))}",
    ]
    return "\n".join(lines)


def minute(text: str) -> int:
    """Return "HH:MM" as minutes after midnight."""
    hours, minutes = text.split(":")
    return 60 * int(hours) + int(minutes)


def check_day(plan: TrialPlan, table: Timetable, day: str = "1") -> None:
    """Assert that the steps of a day keep every limit of the card; works from the printed times
    alone.
    """
    m, k = plan.card.minutes, plan.card.kitchen
    loaves = plan.loaves[plan.loaves["day"] == day].set_index("loaf", drop=False)
    steps = table.steps[table.steps["day"] == day]
    rows = [
        (r.step, r.mix, r.oven_load, r.loaves, minute(r.begins), minute(r.ends))
        for r in steps.itertuples()
    ]
    assert [r[4] for r in rows] == sorted(r[4] for r in rows)
    for step in ("shape", "in", "out", "measure"):
        assert sorted(code for r in rows if r[0] == step for code in r[3]) == sorted(loaves["loaf"])
    busy, oven = Counter(), Counter()
    _check_doughs(rows, loaves, m, busy)
    _check_oven(rows, loaves, plan.card, oven, busy)
    [(_, _, _, codes, begins, ends)] = [r for r in rows if r[0] == "measure"]
    assert list(codes) == list(loaves.sort_values("measure_order")["loaf"])
    assert ends - begins == -(-len(loaves) // k.hands) * m.measure
    out = {code: r[5] for r in rows if r[0] == "out" for code in r[3]}
    assert all(begins - t >= m.cool[0] and ends - t <= m.cool[1] for t in out.values())
    assert max(busy.values()) <= k.hands
    limits = k.zones or {"": k.oven_places}
    assert k.loads_a_day or all(n <= limits[zone] for (_, zone), n in oven.items())
    assert min(r[4] for r in rows) >= k.opens
    assert table.fits == (max(r[5] for r in rows) <= k.closes)


def _check_doughs(rows, loaves, m, busy) -> None:
    mixed, free = {}, {}
    for mix, of_mix in loaves.groupby("mix"):
        [(weigh, weighed)] = [r[4:] for r in rows if r[:2] == ("weigh", mix)]
        [(begins, ends)] = [r[4:] for r in rows if r[:2] == ("mix", mix)]
        assert (weighed - weigh, ends - begins) == (m.weigh, m.mix)
        assert weighed <= begins
        busy.update([*range(weigh, weighed), *range(begins, begins + int(min(m.attend, m.mix)))])
        mixed[mix] = ends
        baker = of_mix["baker"].iloc[0] if "baker" in of_mix else ""
        free.setdefault(baker, []).append((of_mix["mix_order"].iloc[0], begins, ends))
    for turns in free.values():
        ordered = sorted(turns)
        assert all(a[2] <= b[1] for a, b in itertools.pairwise(ordered))
    for step, mix, load, codes, begins, ends in rows:
        if step == "shape":
            assert ends - begins == len(codes) * m.shape
            of_mix = loaves[loaves["mix"] == mix]
            proof = (
                of_mix["proof_min"]
                if "proof_min" in of_mix
                else pd.Series(m.proof, index=of_mix.index)
            )
            longer = proof.max() - proof[list(codes)].max() if "oven_load" in loaves else 0
            # for the load before to be out
            waits = load is not None and load != min(of_mix["oven_load"], key=int)
            assert m.rest[0] <= begins - mixed[mix] <= (np.inf if waits else m.rest[1] + longer)
            busy.update(range(begins, ends))


def _check_oven(rows, loaves, card, oven, busy) -> None:
    m = card.minutes
    shaped = {}
    for step, _, _, codes, begins, _ in rows:
        if step == "shape":
            shaped |= {code: begins + (i + 1) * m.shape for i, code in enumerate(codes)}
    into = {r[3]: r for r in rows if r[0] == "in"}
    outs = {r[3]: r for r in rows if r[0] == "out"}
    assert set(into) == set(outs)
    for codes, (_, _, _, _, begins, filled) in into.items():
        _, _, _, _, out, emptied = outs[codes]
        assert (filled - begins, out - filled, emptied - out) == (m.fill, m.bake, m.empty)
        proofs = {
            code: loaves.at[code, "proof_min"] if "proof_min" in loaves else m.proof
            for code in codes
        }
        for mix_, proof in {(loaves.at[c, "mix"], p) for c, p in proofs.items()}:
            batch = [c for c in codes if loaves.at[c, "mix"] == mix_ and proofs[c] == proof]
            assert proof <= begins - max(shaped[c] for c in batch) <= proof + m.late
        busy.update([*range(begins, filled), *range(out, emptied)])
        for code in codes:
            zone = loaves.at[code, "oven_place"] if "oven_place" in loaves else ""
            oven.update((t, zone) for t in range(begins, out))
    if "oven_load" in loaves:
        stays = sorted((r[4], outs[c][5]) for c, r in into.items())
        assert all(a[1] <= b[0] for a, b in itertools.pairwise(stays))

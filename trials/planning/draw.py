"""One draw of a plan: mixes to days, loads, loaves in mixes, orders, places, codes."""

from __future__ import annotations

import numpy as np
import pandas as pd

from ..frozen import frozen
from .codes import blind_codes
from .even_order import spread
from .loaves_in_mixes import DealtLoaves, deal_loaves
from .mixes_to_days import CENTRE, DealtMixes, deal_mixes
from .orders import even_order, levels, mixing_order, oven_places, oven_settings
from .task import Task
from .ties import Groups, ties_by_columns, ties_by_words

COLUMNS = (
    "loaf",
    "day",
    "baker",
    "mix",
    "mix_order",
    "oven_load",
    "oven_place",
    "bake_order",
    "measure_order",
)


@frozen
class Draw:
    """One draw: its table of loaves, and the layouts that it came from.

    settings (loaves, factors) : level numbers in the card's order of factors, and block (loaves,),
    as they were dealt
    """

    loaves: pd.DataFrame
    dealt: DealtMixes
    inside: DealtLoaves
    balance: pd.DataFrame
    settings: np.ndarray
    block: np.ndarray


def draw(task: Task, rng: np.random.Generator) -> Draw:
    """Return one draw of the task's layout."""
    dealt = deal_mixes(task, rng)
    mix_order = mixing_order(task, dealt, rng)
    inside, oven = _loaves(task, rng, dealt, mix_order)
    by_day = _day_settings(task, rng)
    of = np.repeat(np.arange(len(dealt.block)), task.loaves)
    day, baker = dealt.block[of] // task.bakers, dealt.block[of] % task.bakers
    names, settings = _settings(
        task, dealt.settings[of], inside.settings, oven[day, inside.load], by_day[day]
    )
    load = day * max(task.loads, 1) + inside.load
    table = pd.DataFrame(
        {"_day": day, "_baker": baker, "_order": mix_order[of], "_mix": of, "_load": load}
    )
    together = load if task.loads else _turns_of_oven(task, day, mix_order[of])
    if task.kitchen.zones:
        zones = oven_places(rng, list(task.kitchen.zones.values()), together, settings, of)
        table["oven_place"] = np.array(list(task.kitchen.zones))[zones]
    table["bake_order"] = _bake_order(task, rng, table, settings, names)
    table["measure_order"] = even_order(rng, day, settings, of) + 1
    balance = _balance(task, table, names, settings, dealt, inside)
    for i, name in enumerate(names):
        table[name] = _written(task, name, settings[:, i])
    return Draw(_named(task, rng, table, names), dealt, inside, balance, settings, dealt.block[of])


def _loaves(
    task: Task, rng: np.random.Generator, dealt: DealtMixes, mix_order: np.ndarray
) -> tuple[DealtLoaves, np.ndarray]:
    oven = oven_settings(task, rng)
    load_of_mix = mix_order * oven.shape[1] // task.mixes
    return deal_loaves(task, rng, dealt.settings, dealt.block, load_of_mix, oven), oven


def _day_settings(task: Task, rng: np.random.Generator) -> np.ndarray:
    """Return the level numbers of factors that are changed by the day, (days, factors), each level
    equally often.
    """
    columns = [
        rng.permutation(np.arange(task.days) % len(task.levels[name]))
        for name in task.factors("day")
    ]
    return np.column_stack(columns) if columns else np.zeros((task.days, 0), dtype=np.int64)


def _settings(
    task: Task, mix: np.ndarray, loaf: np.ndarray, load: np.ndarray, day: np.ndarray
) -> tuple[tuple[str, ...], np.ndarray]:
    """Return the factors in the card's order, and every loaf's level numbers."""
    names = (
        *task.factors("mix"),
        *task.factors("loaf"),
        *task.factors("load"),
        *task.factors("day"),
    )
    settings = np.column_stack([mix, loaf, load, day])
    order = [names.index(name) for name in task.levels]
    return tuple(task.levels), settings[:, order]


def _turns_of_oven(task: Task, day: np.ndarray, mix_order: np.ndarray) -> np.ndarray:
    """Return what stands in the oven together where loaves go in as they are proofed: as many mixes
    as it takes.
    """
    each = task.loaves * task.bakers
    mixes = max((task.kitchen.oven_places or each * task.mixes) // each, 1)
    return day * task.mixes + mix_order // mixes


def _bake_order(
    task: Task,
    rng: np.random.Generator,
    table: pd.DataFrame,
    settings: np.ndarray,
    names: tuple[str, ...],
) -> np.ndarray:
    """Return the order in which a day's loaves go into the oven.

    By load; without loads by when they are proofed: mixes follow one another by the minutes that
    mixing takes, or wholly where the card does not say. Evenly inside.
    """
    groups = (
        table["_load"] if task.loads else table["_day"] * task.mixes + table["_order"]
    ).to_numpy()
    ready = groups.astype(float)
    if not task.loads and "proof_min" in names:
        proof = _written(task, "proof_min", settings[:, names.index("proof_min")]).astype(float)
        said = task.card.minutes
        apart = said.mix if said is not None and said.mix else float(np.ptp(proof)) + 1
        ready = table["_order"].to_numpy() * apart + proof
    keys = even_order(rng, groups, settings, table["_mix"].to_numpy()), ready
    order = np.lexsort((*keys, table["_day"].to_numpy()))
    place = np.empty(len(table), dtype=np.int64)
    place[order] = np.arange(len(table))
    first = table.assign(place=place).groupby("_day")["place"].transform("min").to_numpy()
    return place - first + 1


def _written(task: Task, name: str, numbers: np.ndarray) -> np.ndarray:
    """Return level numbers as the levels on the card; −1 is half-way between the two."""
    given = task.levels[name]
    values: list[object] = [*given]
    if CENTRE in numbers:
        values.append(sum(float(level) for level in given) / len(given))
    kind = float if isinstance(given[0], float) else object
    return np.array(values, dtype=kind)[numbers]


def _balance(
    task: Task,
    table: pd.DataFrame,
    names: tuple[str, ...],
    settings: np.ndarray,
    dealt: DealtMixes,
    inside: DealtLoaves,
) -> pd.DataFrame:
    """Return how evenly every factor lies over days, orders and places."""
    against = {"mix_order": table["_order"], "day": table["_day"]}
    if task.loads > 1:
        against["oven_load"] = table["_load"]
    if "oven_place" in table:
        against["oven_place"] = table["oven_place"]
    rows = []
    mixes = ~table.duplicated("_mix").to_numpy()
    for name, label in zip(names, levels(settings), strict=True):
        loaf = name in task.factors("loaf") or (task.divided and name in task.factors("load"))
        chosen = inside.inside if loaf else dealt.layout
        for other, column in against.items():
            if other == "oven_load" and name in task.factors("load"):
                continue
            of = np.ones(len(table), dtype=bool) if loaf or other == "oven_place" else mixes
            found = spread(label[of], pd.factorize(column)[0][of])
            rows.append((name, other, found, _promised(task, chosen, other, found)))
    return pd.DataFrame(rows, columns=["factor", "against", "spread", "promised"])


def _promised(task: Task, chosen: str, other: str, found: int) -> int:
    """Return the spread that every draw keeps.

    Over days, and of what was chosen by exchange, the layout's own; in orders and places at most
    one, and one more where as many factors as places are to be even at once.
    """
    if other == "day" or chosen == "chosen by exchange":
        return found
    crowded = len(task.factors("mix")) >= task.mixes > 1 and other == "mix_order"
    return 1 + crowded


def ties(task: Task, drawn: Draw) -> Groups:
    """Return what this layout cannot tell apart."""
    names, dealt, inside = tuple(task.levels), drawn.dealt, drawn.inside
    of_mix = task.factors("mix")
    if dealt.regular is not None and inside.inside != "chosen by exchange":
        return ties_by_words(dealt.regular, of_mix)
    here = [i for i, name in enumerate(names) if task.made_per[name] != "day"]
    chosen = tuple(names[i] for i in here)
    modelled = {frozenset((a, b)) for i, a in enumerate(chosen) for b in chosen[i + 1 :]}
    modelled -= {
        frozenset((of_mix[a], of_mix[b]))
        for a in range(len(of_mix))
        for b in range(a + 1, len(of_mix))
    }
    modelled |= {frozenset((of_mix[a], of_mix[b])) for a, b in dealt.pairs}
    if inside.inside == "chosen by exchange":
        loaf = set(task.factors("loaf"))
        modelled = {pair for pair in modelled if not pair & loaf} | {
            frozenset(pair) for pair in inside.pairs
        }
    counts = tuple(len(task.levels[name]) for name in chosen)
    return (
        ties_by_columns(chosen, counts, drawn.settings[:, here], drawn.block, modelled)
        if chosen
        else []
    )


def _named(
    task: Task, rng: np.random.Generator, table: pd.DataFrame, names: tuple[str, ...]
) -> pd.DataFrame:
    """Return the loaves with the labels that people read: days, bakers, mixes, loads from 1, and
    the blind codes.
    """
    table = table.sort_values(
        ["_day", "_order", "_baker", "bake_order"], kind="stable", ignore_index=True
    )
    table["mix"] = (pd.factorize(table["_mix"])[0] + 1).astype(str)
    table["day"] = (table["_day"] + 1).astype(str)
    table["mix_order"] = table["_order"] + 1
    if task.bakers > 1:
        table["baker"] = (table["_baker"] + 1).astype(str)
    if task.loads:
        table["oven_load"] = (table["_load"] + 1).astype(str)
    table["loaf"] = blind_codes(rng, len(table))
    columns = [name for name in COLUMNS if name in table]
    texts = {
        name: object
        for name in (*columns, *names)
        if not pd.api.types.is_numeric_dtype(table[name])
    }
    return table[[*columns, *names]].astype(texts)

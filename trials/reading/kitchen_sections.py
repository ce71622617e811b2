"""Reads the card's sections about the kitchen. A fault is remembered by the reader, so that all are
told at once.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import fields
from typing import TYPE_CHECKING, Any

from ..kitchen import UNITS, Dough, Kitchen, Minutes, Preferment, Range, Soaker, Unit, Variation

if TYPE_CHECKING:
    from .card_file import _CardReader

LIMITS = {"days": 4, "mixes_a_day": 2, "loaves_a_mix": 4}  # what must be said, with an example
DAY = 24 * 60  # minutes
CLOCK = re.compile(r"([0-3]?\d|4[0-7]):([0-5]\d)|48:00")  # past midnight the hours run on


def planning_sections(read: _CardReader, table: Mapping[str, Any]) -> dict[str, Any]:
    """Return the card's fields that only planning needs; a section that is not there keeps its
    neutral value.
    """
    once = {
        "kitchen": kitchen,
        "minutes": minutes,
        "variation": variation,
        "dough": dough,
        "made_per": made_per,
    }
    named = {"preferments": preferment, "soakers": soaker}
    values: dict[str, Any] = {
        key: one(read, read.section(table, key)) for key, one in once.items() if key in table
    }
    for key, each in named.items():
        found = {name: each(read, name, inner) for name, inner in read.sections(table, key)}
        values[key] = {name: value for name, value in found.items() if value is not None}
    return values


def kitchen(read: _CardReader, table: Mapping[str, Any]) -> Kitchen | None:
    """Return the kitchen's limits, or None where a part is missing or wrong."""
    place = "[kitchen] "
    read.known_keys(table, {f.name for f in fields(Kitchen)} - {"zones"}, place.strip())
    counts = {
        key: read.whole(table, key, place) for key in (*LIMITS, "bakers", "hands", "loads_a_day")
    }
    missing = [key for key in LIMITS if key not in table]
    if missing:
        lines = "\n".join(f"{key} = {LIMITS[key]}" for key in missing)
        read.fault(
            "plan-no-kitchen",
            f"{place}does not say {', '.join(missing)}.",
            f"Copy below [kitchen], and put your own numbers in:\n{lines}",
        )
    zones = places(read, table)
    opens, closes = clock(read, table, "opens"), clock(read, table, "closes")
    if opens is not None and opens >= DAY:
        read.fault(
            "card-out-of-range",
            f"{place}opens at {table['opens']}, on the day after.",
            'Write the time of day, such as  opens = "07:00"',
        )
    elif opens is not None and closes is not None and closes <= opens:
        after_midnight = f"{24 + closes // 60}:{closes % 60:02d}"
        read.fault(
            "card-out-of-range",
            f"{place}closes at {table['closes']}, before it opens at {table['opens']}.",
            'Write the times of one day, such as  opens = "07:00"  and  closes = "15:30" ; or,'
            " where work goes on past midnight, let the hours run on:"
            f'  closes = "{after_midnight}"',
        )
    said = {key: count for key, count in counts.items() if count is not None}
    if any(key not in said for key in LIMITS):
        return None
    return Kitchen(
        **said,
        oven_places=sum(zones.values()) or None,
        opens=opens,
        closes=closes,
        zones={name: n for name, n in zones.items() if name},
    )


def places(read: _CardReader, table: Mapping[str, Any]) -> dict[str, int]:
    """Return the oven's places a zone; one number is a zone without a name."""
    given = table.get("oven_places")
    if given is None:
        return {}
    if not isinstance(given, dict):
        n = read.whole(table, "oven_places", "[kitchen] ")
        return {"": n} if n else {}
    read_zones = {str(name): read.whole(given, name, "[kitchen.oven_places] ") for name in given}
    return {name: n for name, n in read_zones.items() if n}


def minutes(read: _CardReader, table: Mapping[str, Any]) -> Minutes:
    """Return how long each step takes."""
    return Minutes(**numbers(read, table, Minutes, "[minutes] ", ranges=("rest", "cool")))


def variation(read: _CardReader, table: Mapping[str, Any]) -> Variation:
    """Return how mixes, loaves and loads vary."""
    return Variation(**numbers(read, table, Variation, "[variation] "))


def dough(read: _CardReader, table: Mapping[str, Any]) -> Dough:
    """Return how a dough is made up."""
    known = numbers(
        read,
        table,
        Dough,
        "[dough] ",
        ranges=("mixer_g",),
        above=("piece_g", "scale_g", "fine_scale_g"),
        below={"waste_pct": 100.0},
        free=("temp_c", "flour_c", "room_c", "friction_c", "tap_c"),
    )
    return Dough(**known)


def preferment(read: _CardReader, name: str, table: Mapping[str, Any]) -> Preferment | None:
    """Return one preferment, or None where it does not say what it takes or how wet it is."""
    place = f"[preferments.{name}] "
    read.known_keys(table, {f.name for f in fields(Preferment)}, place.strip())
    flour = read.text(table, "flour", place)
    takes, hydration = (read.number(table, key, place, above=0) for key in ("takes", "hydration"))
    required(read, table, ("takes", "hydration"), place, "Write  takes = 15  and  hydration = 100")
    if takes is not None and takes > 100:
        read.fault(
            "card-out-of-range",
            f"{place}takes is {takes:g}.",
            "It is a percentage of all flour: at most 100.",
        )
    if takes is None or hydration is None:
        return None
    return Preferment(takes=takes, hydration=hydration, flour=flour)


def soaker(read: _CardReader, name: str, table: Mapping[str, Any]) -> Soaker | None:
    """Return one soaker, or None where it does not say what it holds or how much water."""
    place = f"[soakers.{name}] "
    read.known_keys(table, {f.name for f in fields(Soaker)}, place.strip())
    water = read.number(table, "water", place, least=0)
    required(read, table, ("holds", "water"), place, 'Write  holds = ["linseed"]  and  water = 10')
    holds = table.get("holds", [])
    if not isinstance(holds, list) or not all(isinstance(h, str) and h.strip() for h in holds):
        read.fault(
            "card-wrong-kind",
            f"{place}holds is {holds!r}, not a list of ingredients.",
            'Write  holds = ["linseed", "sunflower_seed"]',
        )
        return None
    return (
        Soaker(holds=tuple(h.strip() for h in holds), water=water)
        if holds and water is not None
        else None
    )


def made_per(read: _CardReader, table: Mapping[str, Any]) -> dict[str, Unit]:
    """Return the unit that each factor is changed with, as the card says."""
    units = {name: read.choice(table, name, UNITS, "[made_per] ") for name in table}
    return {name: unit for name, unit in units.items() if unit in UNITS}


# --- one kind of value each --------------------------------------------------------------------


def numbers(
    read: _CardReader,
    table: Mapping[str, Any],
    kind: type,
    place: str,
    *,
    ranges: tuple[str, ...] = (),
    above: tuple[str, ...] = (),
    free: tuple[str, ...] = (),
    below: Mapping[str, float] | None = None,
) -> dict[str, Any]:
    """Return a section's numbers: 0 or more unless ``above`` 0, ``free`` or a range of two."""
    known = [f.name for f in fields(kind)]
    read.known_keys(table, set(known), place.strip())
    values: dict[str, Any] = {}
    for key in known:
        if key in ranges:
            values[key] = span(read, table, key, place)
        elif key in above:
            values[key] = read.number(table, key, place, above=0)
        else:
            values[key] = read.number(table, key, place, least=None if key in free else 0)
    for key, limit in (below or {}).items():
        if values[key] is not None and values[key] >= limit:
            read.fault(
                "card-out-of-range",
                f"{place}{key} is {values[key]:g}.",
                f"It must be below {limit:g}.",
            )
    return values


def span(read: _CardReader, table: Mapping[str, Any], key: str, place: str) -> Range | None:
    """Return the least and the most of something, or None where the card is silent."""
    given = table.get(key)
    if given is None:
        return None
    example = f"Write the least and the most, such as  {key} = [50, 60]"
    ends = given if isinstance(given, list) and len(given) == 2 else []
    if not ends or any(isinstance(v, bool) or not isinstance(v, int | float) for v in ends):
        read.fault("card-wrong-kind", f"{place}{key} is {given!r}, not two numbers.", example)
        return None
    if not 0 <= ends[0] <= ends[1] < float("inf"):
        read.fault(
            "card-out-of-range", f"{place}{key} is {given!r}.", f"{example}; the least comes first."
        )
        return None
    return float(ends[0]), float(ends[1])


def clock(read: _CardReader, table: Mapping[str, Any], key: str) -> int | None:
    """Return a time of day in minutes after midnight, or None where the card is silent."""
    text = table.get(key)
    if text is None:
        return None
    if not isinstance(text, str) or not CLOCK.fullmatch(text.strip()):
        read.fault(
            "card-out-of-range" if isinstance(text, str) else "card-wrong-kind",
            f"[kitchen] {key} is {str(text)!r}, no time of day.",
            f'Write hours and minutes, such as  {key} = "07:00"',
        )
        return None
    hours, mins = text.strip().split(":")
    return 60 * int(hours) + int(mins)


def required(
    read: _CardReader, table: Mapping[str, Any], keys: tuple[str, ...], place: str, fix: str
) -> None:
    """Fault what a section does not say but must."""
    missing = [key for key in keys if key not in table]
    if missing:
        read.fault("card-incomplete", f"{place}does not say {' and '.join(missing)}.", fix)

"""What the card says of tasting and of words to tick, and how its sections are read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from typing import TYPE_CHECKING, Any

from .frozen import frozen

if TYPE_CHECKING:
    from .reading.card_file import _CardReader


@frozen(kw_only=True)
class Tasting:
    """The section [tasting]. Every field is None or empty where the card is silent.

    test : for rows that name none. asked : what people are asked for where a test needs it, such
        as "sourness", for rows that say nothing. may_tell : share of people who may be able to
        tell, between 0 and 1. expected : the bread expected to have more of it, or all breads from
        the least to the most. assessors : how many people were planned. allergens : formula → its
        allergens by name, "" for every formula; None as long as nobody named them
    """

    test: str | None = None
    asked: str | None = None
    may_tell: float | None = None
    expected: tuple[str, ...] = ()
    assessors: int | None = None
    allergens: Mapping[str, tuple[str, ...]] | None = None


def tasting_section(read: _CardReader, table: Mapping[str, Any]) -> Tasting:
    """Return the section [tasting]."""
    from .tasting.kinds import KINDS, kind_named

    place = "[tasting] "
    read.known_keys(table, {field.name for field in fields(Tasting)}, place.strip())
    said = read.text(table, "test", place)
    kind = kind_named(said) if said else None
    if said and kind is None:
        read.fault(
            "card-wrong-kind",
            f"{place}test is {said!r}, which is not known.",
            f"Write one of: {', '.join(KINDS)}.",
        )
    may_tell = read.number(table, "may_tell", place, above=0)
    if may_tell is not None and may_tell >= 1:
        read.fault(
            "card-out-of-range",
            f"{place}may_tell is {may_tell:g}.",
            "It is a share of people, below 1: write 0.3 for 30 in 100.",
        )
    planned = read.number(table, "assessors", place, above=0)
    if planned is not None and not planned.is_integer():
        read.fault(
            "card-out-of-range", f"{place}assessors is {planned:g}.", "Write a whole number."
        )
    return Tasting(
        test=kind.name if kind else None,
        asked=read.text(table, "asked", place),
        may_tell=may_tell,
        expected=names(read, table, "expected", place) or (),
        assessors=None if planned is None else int(planned),
        allergens=allergens(read, table, place),
    )


def words_section(read: _CardReader, table: Mapping[str, Any]) -> dict[str, tuple[str, ...]]:
    """Return the section [words]: heading → the words under it, each word once in all."""
    found = {heading: names(read, table, heading, "[words] ") or () for heading in table}
    every = [word.casefold() for words in found.values() for word in words]
    twice = sorted({word for word in every if every.count(word) > 1})
    if twice:
        read.fault(
            "card-word-twice",
            f"[words] has more than once: {', '.join(twice)}.",
            "Put each word under one heading.",
        )
    return found


def allergens(
    read: _CardReader, table: Mapping[str, Any], place: str
) -> dict[str, tuple[str, ...]] | None:
    """Return formula → allergens; a plain list holds for every formula, an empty one says that
    there are none.
    """
    value = table.get("allergens")
    if value is None:
        return None
    if isinstance(value, dict):
        return {name: names(read, value, name, "[tasting.allergens] ") or () for name in value}
    return {"": names(read, table, "allergens", place) or ()}


def names(
    read: _CardReader, table: Mapping[str, Any], key: str, place: str
) -> tuple[str, ...] | None:
    """Return a list of names, a single one standing for itself; None where the card is silent."""
    value = table.get(key)
    if value is None:
        return None
    listed = [value] if isinstance(value, str) else value
    if not isinstance(listed, list) or not all(
        isinstance(name, str) and name.strip() for name in listed
    ):
        read.fault(
            "card-wrong-kind",
            f"{place}{key} is {value!r}, not a list of names.",
            f'Write  {key} = ["first", "second"]',
        )
        return None
    return tuple(" ".join(name.split()) for name in listed)

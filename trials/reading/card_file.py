"""The card's file: trial.toml, read field by field; every fault is told at once."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import fields
from difflib import get_close_matches
from typing import Any

from ..card import FILE, Level, Measure, ScoreScale, Tin, TrialCard
from ..findings import Finding, TrialError
from ..formula import is_flour
from ..tasting_sections import tasting_section, words_section
from .wide import wide_section

# parts of a dotted key; the parser's time and memory grow with the square of their number
DEEPEST_KEY = 20
_LONG_DOTTED_KEY = re.compile(
    rf"""(?<![\w-])(?:(?:[\w-]+|"[^"\n]*"|'[^'\n]*')[ \t]*\.[ \t]*){{{DEEPEST_KEY},}}"""
)
MEANT = {"low": "too_low", "target": "best", "high": "too_high"}  # of a measure
MOST = 1e300  # a number beyond (or one that is no number) cannot be reckoned with
MOST_COUNTED = 1000  # of anything that is counted; more is a slip
# sections that only planning needs, and what is loaded for them
PLANNING = {"kitchen", "minutes", "variation", "dough", "made_per", "preferments", "soakers"}
# percentages of flours that are rounded to one digit may miss 100 by that much
FLOUR_ROUNDING = 0.5


def card_text(raw: bytes, file: str = FILE) -> str:
    """Return the text of a card's bytes, which TOML wants in UTF-8.

    Raises
    ------
    TrialError: the bytes are no UTF-8.
    """
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        line = raw.count(b"\n", 0, problem.start) + 1
        raise TrialError.one(
            "card-not-utf-8",
            f"{file}, line {line}: the card is not written in UTF-8.",
            "Save it again with the encoding UTF-8 (most editors ask, or show it at the bottom).",
            file=file,
            rows=(line,),
        ) from None


def read_card(text: str, file: str = FILE) -> TrialCard:
    """Return the card written in ``text`` (TOML).

    Raises
    ------
    TrialError: the text is no TOML, or fields are unknown, of the wrong kind or out of range; names
    all of them.
    """
    card, faults = card_and_faults(text, file)
    if faults:
        raise TrialError(faults)
    return card


def card_and_faults(text: str, file: str = FILE) -> tuple[TrialCard, list[Finding]]:
    """Return the card as far as it can be read, and every fault: what is at fault is left out.

    Raises
    ------
    TrialError: the text is no TOML.
    """
    if _LONG_DOTTED_KEY.search(text):
        raise TrialError.one(
            "card-not-toml",
            f"{file} has a key of more than {DEEPEST_KEY} parts.",
            "A card's keys have at most two parts, such as  [tins.open]",
            file=file,
        )
    try:
        table = tomllib.loads(text)
    except (ValueError, RecursionError) as problem:
        raise TrialError.one(
            "card-not-toml",
            f"{file} is not a TOML file: {problem}.",
            'Each line reads like  measure = "specific_volume"  and texts stand in double quotes.',
            file=file,
        ) from None
    reader = _CardReader(file)
    return reader.card(table), reader.faults


class _CardReader:
    """Reads one card field by field and remembers every fault, so that all are told at once."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.faults: list[Finding] = []

    def card(self, table: Mapping[str, Any]) -> TrialCard:
        """Return the card without what is at fault; the faults are remembered."""
        known = {f.name for f in fields(TrialCard)}
        self.known_keys(table, known, "the card")
        values: dict[str, Any] = {
            "title": self.text(table, "title"),
            "question": self.text(table, "question"),
            "measure": self.text(table, "measure"),
            "matters": self.number(table, "matters", above=0),
            "control": self.text(table, "control"),
            "proof_to": self.choice(table, "proof_to", ("time", "height")),
            "min_cool_min": self.number(table, "min_cool_min", least=0),
            "three_way": self.flag(table, "three_way") or False,
            "factors": self.factors(self.section(table, "factors")),
            "columns": self.texts(self.section(table, "columns"), "columns"),
            "wide": wide_section(self, self.section(table, "wide")),
            "measures": {k: self.measure(k, v) for k, v in self.sections(table, "measures")},
            "tins": {k: self.tin(k, v) for k, v in self.sections(table, "tins")},
            "scores": self.scores(self.section(table, "scores")) if "scores" in table else None,
            "words": words_section(self, self.section(table, "words")),
            "formulas": {k: self.formula(k, v) for k, v in self.sections(table, "formulas")},
        }
        if "tasting" in table:
            values["tasting"] = tasting_section(self, self.section(table, "tasting"))
        if PLANNING & table.keys():
            from .kitchen_sections import planning_sections  # who does not plan need not wait

            values |= planning_sections(self, table)
        card = TrialCard(**values)
        self.agreement(card)
        return card

    # --- one kind of value each -----------------------------------------------------------------

    def fault(self, code: str, message: str, fix: str) -> None:
        """Remember one fault."""
        self.faults.append(
            Finding(
                code=code,
                severity="error",
                message=f"{self.file}: {message}",
                fix=fix,
                file=self.file,
            )
        )

    def known_keys(
        self, table: Mapping[str, Any], known: set[str], place: str, meant: Mapping[str, str] = {}
    ) -> None:
        """Fault every key that is not known, with the one that is meant by it, or the nearest."""
        for key in table:
            if key not in known:
                near = [meant[key]] if key in meant else get_close_matches(key, known, n=1)
                fix = (
                    f"Did you mean {near[0]!r}?"
                    if near
                    else f"It knows: {', '.join(sorted(known))}."
                )
                self.fault("card-unknown-key", f"{place} has no field {key!r}.", fix)

    def text(self, table: Mapping[str, Any], key: str, place: str = "") -> str | None:
        """Return a text that is not blank, or None where there is none."""
        value = table.get(key)
        if value is None:
            return None
        if not isinstance(value, str) or not value.strip():
            self.fault(
                "card-wrong-kind", f"{place}{key} is {value!r}, not a text.", f'Write  {key} = "…"'
            )
            return None
        return value.strip()

    def number(
        self,
        table: Mapping[str, Any],
        key: str,
        place: str = "",
        *,
        above: float | None = None,
        least: float | None = None,
        example: str = "a number with a decimal point and no unit, such as  {key} = 0.2",
    ) -> float | None:
        """Return a finite number within its bounds, or None where there is none."""
        value = table.get(key)
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) <= MOST:
            self.fault(
                "card-wrong-kind",
                f"{place}{key} is {repr(value)[:40]}, not a number.",
                f"Write {example.format(key=key)}",
            )
            return None
        if (above is not None and value <= above) or (least is not None and value < least):
            bound = f"above {above:g}" if above is not None else f"{least:g} or more"
            self.fault("card-out-of-range", f"{place}{key} is {value:g}.", f"It must be {bound}.")
            return None
        return float(value)

    def whole(self, table: Mapping[str, Any], key: str, place: str) -> int | None:
        """Return a count, a whole number of one or more, or None where there is none."""
        value = self.number(table, key, place, example="a whole number, such as  {key} = 2")
        if value is None:
            return None
        if not value.is_integer() or not 1 <= value <= MOST_COUNTED:
            self.fault(
                "card-out-of-range",
                f"{place}{key} is {value:g}.",
                f"It is a count: a whole number from 1 to {MOST_COUNTED}.",
            )
            return None
        return int(value)

    def flag(self, table: Mapping[str, Any], key: str, place: str = "") -> bool | None:
        """Return true or false, or None where the card is silent."""
        value = table.get(key)
        if value is not None and not isinstance(value, bool):
            self.fault(
                "card-wrong-kind",
                f"{place}{key} is {value!r}.",
                "Write  true  or  false, without quotes.",
            )
            return None
        return value

    def choice(
        self, table: Mapping[str, Any], key: str, allowed: tuple[str, ...], place: str = ""
    ) -> Any:
        """Return one of the allowed words, or None where the card is silent."""
        value = table.get(key)
        if value is not None and value not in allowed:
            self.fault(
                "card-wrong-kind",
                f"{place}{key} is {value!r}.",
                f"Write one of: {', '.join(repr(a) for a in allowed)}.",
            )
            return None
        return value

    def section(self, table: Mapping[str, Any], key: str) -> Mapping[str, Any]:
        """Return a section, empty where there is none."""
        value = table.get(key, {})
        if not isinstance(value, dict):
            self.fault(
                "card-wrong-kind",
                f"{key} is {value!r}, not a section.",
                f"Start it with a line  [{key}]",
            )
            return {}
        return value

    def sections(self, table: Mapping[str, Any], key: str) -> list[tuple[str, Mapping[str, Any]]]:
        """Return the named sections under ``key``, such as [tins.open]."""
        outer = self.section(table, key)
        return [(name, self.section(outer, name)) for name in outer]

    def texts(self, table: Mapping[str, Any], place: str) -> dict[str, str]:
        """Return a section of texts."""
        read = {key: self.text(table, key, f"[{place}] ") for key in table}
        return {key: value for key, value in read.items() if value is not None}

    # --- the sections ---------------------------------------------------------------------------

    def factors(self, table: Mapping[str, Any]) -> dict[str, tuple[Level, ...]]:
        """Return each factor's planned levels: all texts or all numbers, none twice."""
        read: dict[str, tuple[Level, ...]] = {}
        for name, levels in table.items():
            if not isinstance(levels, list) or not levels:
                self.fault(
                    "card-wrong-kind",
                    f"[factors] {name} is {levels!r}, not a list of levels.",
                    f'Write  {name} = ["first", "second"]  or  {name} = [45, 60]',
                )
                continue
            numbers = [isinstance(v, int | float) and not isinstance(v, bool) for v in levels]
            if not (all(numbers) or all(isinstance(v, str) and v.strip() for v in levels)):
                self.fault(
                    "card-wrong-kind",
                    f"[factors] {name} mixes texts and numbers: {levels!r}.",
                    "Write either numbers or texts in double quotes.",
                )
                continue
            tidy = tuple(
                float(v) if number else v.strip() for v, number in zip(levels, numbers, strict=True)
            )
            if len(set(tidy)) < len(tidy):
                self.fault(
                    "card-level-twice",
                    f"[factors] {name} names a level twice: {levels!r}.",
                    "Name each level once.",
                )
            read[name] = tidy
        return read

    def measure(self, name: str, table: Mapping[str, Any]) -> Measure:
        """Return what the card says of one measure."""
        place = f"[measures.{name}] "
        self.known_keys(table, {f.name for f in fields(Measure)}, place.strip(), MEANT)
        return Measure(
            label=self.text(table, "label", place),
            unit=self.text(table, "unit", place),
            matters=self.number(table, "matters", place, above=0),
            better=self.choice(table, "better", ("higher", "lower"), place),
            too_low=self.number(table, "too_low", place),
            best=self.number(table, "best", place),
            too_high=self.number(table, "too_high", place),
        )

    def tin(self, name: str, table: Mapping[str, Any]) -> Tin:
        """Return one kind of tin."""
        place = f"[tins.{name}] "
        self.known_keys(table, {f.name for f in fields(Tin)}, place.strip())
        return Tin(
            volume_ml=self.number(table, "volume_ml", place, above=0),
            lid=self.flag(table, "lid", place) or False,
            owned=self.whole(table, "owned", place),
            dough_g=self.number(table, "dough_g", place, above=0),
        )

    def formula(self, name: str, table: Mapping[str, Any]) -> dict[str, float]:
        """Return one formula's ingredients in baker's percentages."""
        read = {key: self.number(table, key, f"[formulas.{name}] ", least=0) for key in table}
        return {key: value for key, value in read.items() if value is not None}

    def scores(self, table: Mapping[str, Any]) -> ScoreScale:
        """Return the score scale with its attributes, words and weights."""
        place = "[scores] "
        self.known_keys(
            table,
            {"scale", "step", "attributes", "words", "weights", "blind", "assessors"},
            place.strip(),
        )
        low, high = self.scale(table.get("scale", [1, 10]))
        attributes = table.get("attributes", [])
        if not isinstance(attributes, list) or not all(
            isinstance(a, str) and a.strip() for a in attributes
        ):
            self.fault(
                "card-wrong-kind",
                f"{place}attributes is {attributes!r}, not a list of names.",
                'Write  attributes = ["openness", "softness"]',
            )
            attributes = []
        weights_table = self.section(table, "weights")
        weights = {
            key: self.number(weights_table, key, "[scores.weights] ", above=0)
            for key in weights_table
        }
        given = {key: value for key, value in weights.items() if value is not None}
        if given and abs(sum(given.values()) - 100) > 1e-6:
            self.fault(
                "card-weights",
                f"[scores.weights] add up to {sum(given.values()):g}.",
                "Make the weights add up to 100.",
            )
        return ScoreScale(
            low=low,
            high=high,
            step=self.number(table, "step", place, above=0) or 1.0,
            attributes=tuple(a.strip() for a in attributes),
            weights=given,
            words={
                name: self.texts(steps, f"scores.words.{name}")
                for name, steps in self.sections(table, "words")
            },
            blind=self.flag(table, "blind", place),
            assessors=self.whole(table, "assessors", place),
        )

    def scale(self, ends: Any) -> tuple[float, float]:
        """Return the lowest and the highest score."""
        numbers = (
            isinstance(ends, list)
            and len(ends) == 2
            and all(isinstance(v, int | float) and not isinstance(v, bool) for v in ends)
        )
        if not numbers or not ends[0] < ends[1]:
            self.fault(
                "card-wrong-kind",
                f"[scores] scale is {ends!r}.",
                "Write the lowest and the highest score, such as  scale = [1, 10]",
            )
            return 1.0, 10.0
        return float(ends[0]), float(ends[1])

    def agreement(self, card: TrialCard) -> None:
        """Fault fields that contradict one another."""
        formulas = card.factors.get("formula")
        if card.control and formulas and card.control not in formulas:
            self.fault(
                "card-control",
                f"control is {card.control!r}, which is not a level of formula.",
                f"Write one of: {', '.join(str(f) for f in formulas)}.",
            )
        if card.matters is not None and card.measure is None:
            self.fault(
                "card-matters",
                "matters is given, but not which measure it is for.",
                'Add  measure = "specific_volume"  or give matters in  [measures.…]',
            )
        for name, parts in card.formulas.items():
            flours = sum(share for ingredient, share in parts.items() if is_flour(ingredient))
            if abs(flours - 100) > FLOUR_ROUNDING:
                self.fault(
                    "card-formula-flour",
                    f"the flours of [formulas.{name}] add up to {flours:g}, not 100.",
                    "Write baker's percentages; a flour's name holds that word, such as  rye_flour"
                    " = 20",
                )

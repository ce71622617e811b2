"""From the rows of ``tasting.csv`` to servings: which breads stood where, what was answered, and
whether rightly.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import field, replace
from functools import lru_cache

import pandas as pd

from ..frozen import frozen
from ..trial import Trial
from ..words.lists import counted
from .kinds import ASKING, KINDS, Kind, kind_named

NONE = ("none", "neither", "either", "both", "no preference", "no difference", "equal", "same")
LOOK_ALIKE = str.maketrans("lI|oO", "11100")  # letters that are written for digits
UNANSWERED = ("", "?", "-", "–", "don't know", "dont know")
HOW: dict[tuple[int, ...], str] = {
    (1, 2): "two cups of one bread and one of another",
    (2, 2): "two cups of each of two breads",
}
LEVELS = ("formula", "mix", "loaf")  # what may make two breads, the coarsest first


@frozen
class Fault:
    """What is wrong with one row: a check's code, what it says of the row, and what to do."""

    code: str
    told: str
    fix: str


@frozen(kw_only=True)
class Serving:
    """One row of ``tasting.csv``.

    codes, loaves : of the cups in serving order; breads : what they are told apart by (``level``:
    formula, else mix, else loaf). reference : the reference's bread. answer : codes; ranks : code →
    rank, 1 for the least, ties at the mean. none : nobody preferred one. right : None where there
    is no right answer. left_out : void, or not answered
    """

    line: int
    assessor: str
    test: str
    asked: str = ""
    group: str = ""
    repeat: str = ""
    codes: tuple[str, ...] = ()
    loaves: tuple[str, ...] = ()
    breads: tuple[str, ...] = ()
    level: str = "loaf"
    reference: str | None = None
    answer: tuple[str, ...] = ()
    ranks: Mapping[str, float] = field(default_factory=dict)
    none: bool = False
    right: bool | None = None
    void: bool = False
    left_out: bool = False
    faults: tuple[Fault, ...] = ()

    @property
    def pair(self) -> tuple[str, ...]:
        """Return the different breads in this serving, in alphabetical order."""
        return tuple(sorted(set(self.breads)))

    @property
    def odd(self) -> str | None:
        """Return the bread that was served once among others served twice."""
        counts = Counter(self.breads)
        return (
            min(counts, key=lambda bread: counts[bread])
            if sorted(counts.values()) == [1, 2]
            else None
        )

    def bread_of(self, code: str) -> str:
        """Return the bread in the cup with this code."""
        return self.breads[self.codes.index(code)]


def key_of(trial: Trial) -> dict[str, str]:
    """Return code → loaf, of the key; loaves under their own names where there is no key."""
    if trial.codes is None:
        return {str(loaf): str(loaf) for loaf in trial.loaves["loaf"].dropna()}
    rows = trial.codes.dropna(subset=["code", "loaf"])
    return dict(zip(rows["code"].astype(str), rows["loaf"].astype(str), strict=True))


def split_codes(text: str) -> tuple[str, ...]:
    """Return the codes in a cell: parted by spaces, commas, semicolons, slashes or plus signs."""
    return tuple(part for part in re.split(r"[\s,;/|+&]+", text) if part)


def told_of_code(code: str, trial: Trial, key: Mapping[str, str]) -> tuple[str, str]:
    """Return what is said of a code that the key does not have, and what to do."""
    if trial.codes is None:
        return f"code {code}", "Write the key: codes.csv with the columns code and loaf."
    meant = code.removesuffix(".0").translate(LOOK_ALIKE)
    others = {other.removesuffix(".0").translate(LOOK_ALIKE): other for other in key}
    perhaps = f", perhaps {others[meant]}" if meant in others else ""
    return f"code {code}{perhaps}", "Correct the code, or add it to codes.csv with its loaf."


def is_order(text: str) -> bool:
    """Return whether a ranking says which comes before which: one way, or that all are equal."""
    signs = set(text) & set("<>=")
    return bool(signs) and not {"<", ">"} <= signs


def read_ranks(text: str) -> dict[str, float]:
    """Return code → rank from ``a < b = c``, 1 for the least and ties at the mean; ``>`` goes the
    other way.
    """
    falling = ">" in text and "<" not in text
    steps = [split_codes(step.replace("=", " ")) for step in re.split("[<>]", text)]
    ranks: dict[str, float] = {}
    place = 0
    for step in reversed(steps) if falling else steps:
        ranks |= {code: place + (len(step) + 1) / 2 for code in step}
        place += len(step)
    return ranks


def read_servings(trial: Trial) -> tuple[Serving, ...]:
    """Return every row of the tasting, each with what is wrong with it; empty where nobody
    tasted.
    """
    return () if trial.tasting is None else _servings(trial)


@lru_cache(maxsize=1)  # every check of a tasting asks for them
def _servings(trial: Trial) -> tuple[Serving, ...]:
    assert trial.tasting is not None
    card = trial.card.tasting
    reader = _Reader(trial, key_of(trial), labels_of(trial), card.test, card.asked, card.expected)
    cells = trial.tasting.astype(object).where(trial.tasting.notna(), "").to_dict("records")
    rows = [{str(name): cell for name, cell in row.items()} for row in cells]
    reader = replace(reader, levels=reader.levels_of(rows))
    return tuple(reader.serving(row) for row in rows)


def labels_of(trial: Trial) -> dict[str, dict[str, str]]:
    """Return loaf → its formula and its mix, where they are known."""
    loaves = trial.loaves.dropna(subset=["loaf"]) if "loaf" in trial.loaves else trial.loaves[:0]
    names = [name for name in LEVELS if name in loaves]
    labels = {}
    for row in loaves[names].to_dict("records"):
        labels[str(row["loaf"])] = {str(n): str(v) for n, v in row.items() if not pd.isna(v)}
    return labels


@frozen
class _Reader:
    """Reads row after row; ``test``, ``asked`` and ``expected`` are the card's."""

    trial: Trial
    key: Mapping[str, str]
    labels: Mapping[str, Mapping[str, str]]
    test: str | None
    asked: str | None
    expected: tuple[str, ...]
    levels: Mapping[str, str] = field(default_factory=dict)

    def levels_of(self, rows: Sequence[Mapping[str, str]]) -> dict[str, str]:
        """Return test → what its breads are told apart by: the coarsest that makes the test of half
        of its rows.
        """
        fit: dict[str, Counter[str]] = {}
        for row in rows:
            kind = kind_named(row.get("test", "") or self.test or "")
            loaves = [self.key.get(code, "") for code in split_codes(row.get("served", ""))]
            if kind is not None and not row.get("void", ""):
                makes = (level for level in LEVELS if self.breads(loaves, level, kind))
                fit.setdefault(kind.name, Counter()).update((*makes, "rows"))
        return {
            test: next(
                (level for level in LEVELS if 2 * counts[level] >= counts["rows"]), LEVELS[0]
            )
            for test, counts in fit.items()
        }

    def breads(self, loaves: Sequence[str], level: str, kind: Kind) -> tuple[str, ...]:
        """Return the loaves' breads, or none where they do not make the test."""
        pattern = kind.pattern if kind.cups else (1,) * len(loaves)
        found = tuple(self.labels.get(loaf, {}).get(level, "") for loaf in loaves)
        return found if all(found) and tuple(sorted(Counter(found).values())) == pattern else ()

    def serving(self, row: Mapping[str, str]) -> Serving:
        """Return one row as a serving. What follows from a fault is not told again."""
        said = row.get("test", "") or self.test or ""
        kind = kind_named(said)
        base = Serving(
            line=int(row["line"]),
            assessor=row.get("assessor", ""),
            test=kind.name if kind else said,
            asked=row.get("asked", "") or (self.asked_for(kind) if kind else ""),
            group=row.get("group", ""),
            repeat=row.get("repeat", ""),
            codes=split_codes(row.get("served", "")),
            void=bool(row.get("void", "")),
        )
        if base.void:
            return replace(base, left_out=True)
        if kind is None:
            told = f"the test {said!r}" if said else "no test"
            return replace(
                base, faults=(Fault("test-unknown", told, f"Write one of: {', '.join(KINDS)}."),)
            )
        base = replace(base, loaves=tuple(self.key.get(code, "") for code in base.codes))
        faults = [*self.unknown(base.codes), *self.number(base, kind)]
        if faults:
            return replace(base, faults=tuple(faults))
        base, faults = self.told_apart(base, kind, row.get("reference", ""))
        return (
            replace(base, faults=tuple(faults))
            if faults
            else self.answered(base, kind, row.get("answer", ""))
        )

    def asked_for(self, kind: Kind) -> str:
        """Return what the card says people are asked for in such a test."""
        return self.asked or "" if kind.name in ASKING else ""

    def unknown(self, codes: Sequence[str]) -> list[Fault]:
        """Return a fault for every code that the key does not have."""
        return [
            Fault("code-unknown", *told_of_code(code, self.trial, self.key))
            for code in dict.fromkeys(codes)
            if code not in self.key
        ]

    def number(self, serving: Serving, kind: Kind) -> list[Fault]:
        """Return a fault where another number of cups was served than the test has."""
        n, wanted = len(serving.codes), str(kind.cups or "two or more")
        cups = counted(n, "cup")
        if len(set(serving.codes)) < n:
            return [
                Fault("served-number", "a code stands twice", "Give every cup a code of its own.")
            ]
        if n == kind.cups or (kind.cups is None and n > 1):
            return []
        return [
            Fault(
                "served-number",
                f"{cups} in a {kind.name} test, which has {wanted}",
                "Write the codes of all cups in one cell under served, in serving order, with a"
                " space between two codes and none inside.",
            )
        ]

    def told_apart(
        self, serving: Serving, kind: Kind, reference: str
    ) -> tuple[Serving, list[Fault]]:
        """Return the serving with its breads, or a fault where they do not make the test."""
        level = self.levels[kind.name]
        if breads := self.breads(serving.loaves, level, kind):
            found = replace(serving, breads=breads, level=level)
            return self.with_reference(found, reference) if kind.name == "duo-trio" else (found, [])
        served = " ".join(
            f"{code} (loaf {loaf})"
            for code, loaf in zip(serving.codes, serving.loaves, strict=True)
        )
        how = HOW.get(kind.pattern, "a different bread in every cup")
        return serving, [
            Fault(
                "served-wrong",
                f"a {kind.name} test has {how}, not {served}",
                "Correct the codes or the key; or give the row a reason under void.",
            )
        ]

    def with_reference(self, serving: Serving, text: str) -> tuple[Serving, list[Fault]]:
        """Return the serving with its reference: the bread of a code, of a loaf, or a bread's own
        name.
        """
        loaf = self.key.get(text, text)
        bread = self.labels.get(loaf, {}).get(serving.level, text)
        if bread in serving.breads:
            return replace(serving, reference=bread), []
        told = f"the reference {text!r} is neither of the two breads" if text else "no reference"
        return serving, [
            Fault(
                "served-wrong", told, "Write the reference's code, loaf or formula under reference."
            )
        ]

    def answered(self, serving: Serving, kind: Kind, text: str) -> Serving:
        """Return the serving with its answer, and whether it is right."""
        plain = " ".join(text.casefold().split())
        if plain in UNANSWERED or (plain in NONE and kind.name != "preference"):
            fault = Fault(
                "answer-missing",
                f"{serving.assessor or 'somebody'}",
                "Fill it in from the ballot; a guess counts, no answer does not.",
            )
            return replace(serving, left_out=True, faults=(fault,))
        if plain in NONE:
            return replace(serving, none=True)
        ranks = read_ranks(text) if kind.answers is None else {}
        answer = tuple(ranks) if ranks else split_codes(text)
        wanted = kind.answers or len(serving.codes)
        if kind.answers is None and not is_order(text):
            fault = Fault(
                "answer-number",
                f"{text!r} is no order",
                "Write the codes from the least to the most with  <  between them, and  =  where"
                " two share a place, such as  357 < 468 = 234.",
            )
            return replace(serving, faults=(fault,))
        strangers = [code for code in answer if code not in serving.codes]
        faults = [
            Fault(
                "answer-not-served",
                f"{code}, not among {' '.join(serving.codes)}",
                "An answer is the code of a cup, not its place: correct it, or the codes under"
                " served.",
            )
            for code in strangers
        ]
        if not faults and (len(answer) != wanted or len(set(answer)) < len(answer)):
            faults = [
                Fault(
                    "answer-number",
                    f"{text!r} in a {kind.name} test, which is answered by {wanted}",
                    "Write every code of the answer once; if the ballot is not clear, leave it"
                    " blank.",
                )
            ]
        done = replace(serving, answer=answer, ranks=ranks, faults=tuple(faults))
        return done if faults else replace(done, right=self.is_right(done))

    def is_right(self, serving: Serving) -> bool | None:
        """Return whether the answer is right; None for a test without right answers."""
        breads = [serving.bread_of(code) for code in serving.answer]
        if serving.test in ("triangle", "three-choice"):
            return breads[0] == serving.odd
        if serving.test == "duo-trio":
            return breads[0] == serving.reference
        if serving.test == "tetrad":
            return breads[0] == breads[1]
        if serving.test == "pair":
            expected = [bread for bread in self.expected if bread in serving.pair]
            return breads[0] == expected[-1] if expected else None
        return None

"""The rule that makes one row a loaf of a sheet whose rows hold several: which columns belong to
one measure, and what they differ in.

A rule is proposed only where the headers say it. Two columns of lengths are no two loaves, a mean
of columns is no formula, and two readings of a volume are no two breads: such columns are kept out,
each with the reason.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import field
from itertools import combinations

from ..card import TrialCard, Wide
from ..columns import BY_NAME, CRUMB_PREFIX, MEASURES
from ..frozen import frozen
from ..reading.days import words_of
from ..reading.headers import Header, read_header, tidy_name, words
from ..reading.raw_table import RawTable
from ..reading.records import vocabulary
from ..reading.totals import is_summary
from ..reading.units import Unit, find_unit
from ..reading.wide import ASSESSOR, READING

OF_UNIT = {"mass": "loaf_g", "volume": "loaf_ml", "specific volume": "specific_volume"}
# Of a header that may mean either column, the one that is likelier where nothing else tells.
MOST_LIKELY: Mapping[tuple[str, ...], str] = {("mass",): "loaf_g"}
OF_VOLUME = frozenset({"loaf_ml", "seed_ml"})
SCORED = frozenset({"softness", "taste", "score", "openness", "crust", "crumb", "evenness"})
OWN = "condition"  # what columns differ in where nothing says what it is
DAYS = words_of(
    "mon tue wed thu fri sat sun monday tuesday wednesday thursday friday saturday sunday montag"
    " dienstag mittwoch donnerstag freitag samstag sonntag lundi mardi mercredi jeudi vendredi"
    " samedi dimanche lunes martes miercoles jueves viernes sabado domingo lunedi martedi mercoledi"
    " giovedi venerdi sabato domenica maandag dinsdag woensdag donderdag vrijdag zaterdag zondag"
)
DAY = words_of("day tag jour dia giorno dag weekend date datum")
LOAF = words_of("loaf loaves brot laib pain pan pane brood bread nr no number")
READ = words_of(
    "reading readings measurement measure repeat messung ablesung mesure lecture medida lectura"
    " misura lettura meting aflezing first second third erste zweite dritte erster zweiter"
    " premier premiere deuxieme primera segunda primero segundo prima seconda primo secondo eerste"
    " tweede 1st 2nd 3rd"
)
TIN = words_of(
    "open lidded lid closed tin tins pan pullman sandwich free freestanding form kasten offen"
    " deckel frei freigeschoben moule ouvert couvercle ferme molde abierto tapa stampo aperto"
    " coperchio blik open deksel vrijgeschoven"
)
# what a loaf's columns may say of the loaf itself: no name of a bread, a day or a tin
OF_ONE_LOAF = words_of(
    "left right front back top bottom middle centre center side length width depth breadth"
    " diameter circumference links rechts vorne hinten oben unten mitte lange breite tiefe"
    " durchmesser umfang gauche droite avant arriere haut bas milieu longueur largeur profondeur"
    " diametre izquierda derecha arriba abajo largo ancho sinistra destra sopra sotto lunghezza"
    " larghezza boven onder midden lengte breedte diepte before after hot cold warm vorher nachher"
    " apres antes despues primo dopo voor na difference diff loss"
)
MEAN = "a mean, a total or the like of other columns"


@frozen(kw_only=True)
class Found:
    """What rows hold several times: measure → level → header, what the columns differ in, and the
    headers that are kept out, with the reason.
    """

    groups: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    over: str = ""
    kept_out: Mapping[str, str] = field(default_factory=dict)

    def rule(self, is_turned: bool) -> Wide | None:
        """Return the rule for the card; None where the sheet has one row a loaf already."""
        if not self.groups:
            return Wide(turned=True) if is_turned else None
        levels = _levels(self.groups)
        return Wide(
            turned=is_turned,
            over=self.over,
            levels=levels,
            columns={
                name: tuple(group.get(level, "") for level in levels)
                for name, group in self.groups.items()
            },
        )


def rule_for(raw: RawTable, headers: Sequence[Header], placed: Mapping[str, Header]) -> Found:
    """Return which columns of a sheet belong to one measure and what they differ in, as far as the
    headers say.
    """
    means = {h.text: MEAN for h in headers if _is_mean(h.text)}
    open_ones = [
        h
        for h in headers
        if h.text not in means and not (h.name in placed and placed[h.name].text == h.text)
    ]
    groups = _confirmed(_groups(raw, open_ones))
    if not groups:
        scores = _assessors(raw, open_ones, placed)
        return Found(groups=scores, over=ASSESSOR if scores else "", kept_out=means)
    over = _over(groups, placed)
    if over and all(set(one) & set(other) for one, other in combinations(groups.values(), 2)):
        return Found(groups=groups, over=over, kept_out=means)
    again = {
        text: f"it may be a second {_said(name)} of one loaf: write one column, or name what the"
        " columns differ in under [wide]"
        for name, group in groups.items()
        for text in group.values()
    }
    return Found(kept_out={**again, **means})


def _said(name: str) -> str:
    return BY_NAME[name].label.lower() if name in BY_NAME else name.replace("_", " ")


def _levels(groups: Mapping[str, Mapping[str, str]]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(level for group in groups.values() for level in group))


def _is_mean(text: str) -> bool:
    """Return whether a header names a mean, a total or the like: of a known measure, or of nothing
    more.
    """
    return is_summary(_without_units(text)) or any(
        is_summary(level) for _, level, _ in _splits(text, "")
    )


def _groups(raw: RawTable, headers: Iterable[Header]) -> dict[str, dict[str, tuple[str, bool]]]:
    """Return measure → level → (header, whether the header names the measure), for measures that
    stand in two columns or more.

    Of several ways to take a header apart the one counts whose level most headers could have:
    "Plain bread volume" is of "Plain bread" beside "Plain bread weight", and of "Plain" else.
    """
    ways = {
        h.text: [way for way in _splits(h.text, raw.units[h.place] if raw.units else "") if way[1]]
        for h in headers
    }
    shared = Counter(level for own in ways.values() for level in {level for _, level, _ in own})
    found: dict[str, dict[str, tuple[str, bool]]] = {}
    for text, own in ways.items():
        for name, level, sure in sorted(own, key=lambda way: -shared[way[1]]):
            if level not in found.get(name, {}):
                found.setdefault(name, {})[level] = text, sure
                break
    return {name: group for name, group in found.items() if len(group) > 1}


def _confirmed(groups: Mapping[str, Mapping[str, tuple[str, bool]]]) -> dict[str, dict[str, str]]:
    """Return the groups whose headers name their measure ("Volume plain"), or that another measure
    of the same levels bears out: "plain (g)" beside "plain (mL)", and no "Flour (g)", "Water (g)".
    """
    kept = {}
    for name, group in groups.items():
        others = [set(group) & set(other) for own, other in groups.items() if own != name]
        if all(sure for _, sure in group.values()) or any(len(both) > 1 for both in others):
            kept[name] = {level: text for level, (text, _) in group.items()}
    return kept if any(name in MEASURES or _is_read(name) for name in kept) else {}


def _is_read(name: str) -> bool:
    return name in OF_VOLUME or name.startswith(CRUMB_PREFIX)


def _splits(text: str, below: str) -> list[tuple[str, str, bool]]:
    """Return (measure, level, whether it is named) for each way in which a header is a measure with
    something that sets it apart.
    """
    unit = _unit_in(text, below)
    parts = _without_units(text).split(" ")
    if unit is None and len(parts) > 1 and (unit := find_unit(parts[-1])):
        parts = parts[:-1]
    ways = []
    for cut in range(len(parts) - 1, 0, -1):
        for stem, rest in ((parts[:cut], parts[cut:]), (parts[-cut:], parts[:-cut])):
            name, sure = _measure(" ".join(stem), unit)
            if name:
                ways.append((name, " ".join(rest).strip(" -–:,"), sure))
    if unit and unit.quantity == "volume" and _is_reading(" ".join(parts)):
        ways.insert(0, ("loaf_ml", " ".join(parts), True))
    if unit and unit.quantity in OF_UNIT and not ways:
        ways.append((OF_UNIT[unit.quantity], " ".join(parts), False))
    return ways


def _unit_in(text: str, below: str) -> Unit | None:
    stated = (below, *re.findall(r"\(([^)]*)\)", text))
    return next((u for part in stated if part and (u := find_unit(part))), None)


def _without_units(text: str) -> str:
    """Return a header without a unit in brackets, other brackets and lone signs."""
    bare = re.sub(r"\(([^)]*)\)", lambda m: " " if find_unit(m[1]) else f" {m[1]} ", text)
    parts = [part for part in re.split(r"[\s_]+", bare) if part not in ("-", "–", "/", ":")]
    return " ".join(parts).strip(" -–:/")


def _measure(stem: str, unit: Unit | None) -> tuple[str, bool]:
    """Return the measure that a part of a header names, and whether it can mean no other; "" where
    it names none.
    """
    meant = read_header(f"{stem} ({unit.symbol})" if unit else stem, vocabulary(TrialCard()))
    is_one = meant is not None and meant.column is not None and meant.column.kind == "number"
    if meant and is_one and meant.name not in ("bake_order", "measure_order", "mix_order"):
        return meant.name, True
    if name := MOST_LIKELY.get(words(stem)):
        return name, False
    scored = words(stem)
    if len(scored) == 1 and scored[0] in SCORED:
        return CRUMB_PREFIX + tidy_name(stem), True
    return "", False


def _is_reading(level: str) -> bool:
    """Return whether a level is a reading's: "reading 1", "first"."""
    parts = tidy_name(level).split("_")
    return bool(set(parts) & READ) and all(part in READ or part.isdigit() for part in parts)


def _are_numbers(levels: Sequence[str]) -> bool:
    """Return whether levels only count: 1, 2; loaf 1, loaf 2; a, b."""
    return all(
        re.fullmatch(r"\d+|[a-d]", part) or part in LOAF | READ
        for level in levels
        for part in tidy_name(level).split("_")
    )


def _assessors(
    raw: RawTable, headers: Sequence[Header], placed: Mapping[str, Header]
) -> dict[str, dict[str, str]]:
    """Return the columns of small whole numbers under a name each: one row a loaf with a column an
    assessor.
    """
    if not {"loaf", "formula"} & set(placed):
        return {}
    names = [
        h.text
        for h in headers
        if h.name not in placed
        and re.fullmatch(r"[^\W\d_]+\.?(?: [^\W_]{1,2}\.?)?", h.text)
        and _are_scores(raw, h)
    ]
    return {f"{CRUMB_PREFIX}score": {text: text for text in names}} if len(names) > 1 else {}


def _are_scores(raw: RawTable, header: Header) -> bool:
    texts = [text.replace(",", ".") for text in raw.cells[header.place] if text not in ("", "-")]
    return len(texts) > 1 and all(re.fullmatch(r"(?:\d|10)(?:\.5|\.0)?", text) for text in texts)


def _over(groups: Mapping[str, Mapping[str, str]], placed: Mapping[str, Header]) -> str:
    """Return what a row's columns differ in: the reading, the loaf, the day, the assessor, the tin
    or the formula; "" where nothing tells.
    """
    levels = _levels(groups)
    plain = [set(tidy_name(level).split("_")) for level in levels]
    a_row_is_a_loaf = "loaf" in placed and words(placed["loaf"].text) != ("number",)
    if any(own & OF_ONE_LOAF for own in plain):
        return ""
    are_letters = all(own <= {"a", "b", "c", "d"} for own in plain)
    if _are_numbers(levels) and not (are_letters and "formula" not in placed):
        says_loaf = any(own & LOAF for own in plain)
        if set(groups) <= OF_VOLUME and not says_loaf and (a_row_is_a_loaf or "loaf_g" in placed):
            return READING
        return "" if a_row_is_a_loaf else "loaf"
    if all(own <= DAYS or (own & DAY and own <= DAY | {*map(str, range(1, 100))}) for own in plain):
        return "day"
    if all(name.startswith(CRUMB_PREFIX) for name in groups) and {"loaf", "formula"} & set(placed):
        return ASSESSOR
    if "formula" not in placed:
        return "formula"
    if a_row_is_a_loaf:
        return ""
    return "tin" if "tin" not in placed and all(own & TIN for own in plain) else OWN

"""From the headers that people write to canonical names and units: "Loaf vol. (cm3)" is ``loaf_ml``
in mL.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from difflib import SequenceMatcher, get_close_matches
from functools import lru_cache

from ..columns import CRUMB_PREFIX, Column
from ..findings import Finding, Severity
from ..frozen import frozen
from ..words import spellings
from ..words.spellings import LANGUAGES, abroad
from .units import Unit, find_unit, is_unclear, quantity_of

Vocabulary = tuple[Column, ...]
Words = tuple[str, ...]
# words → the columns that they may mean
Index = Mapping[Words, tuple[Column, ...]]

SYNONYMS = {
    "wt": "mass",
    "wgt": "mass",
    "weight": "mass",
    "weights": "mass",
    "masses": "mass",
    "vol": "volume",
    "volumes": "volume",
    "temp": "temperature",
    "no": "number",
    "nr": "number",
    "num": "number",
    "id": "number",
    "code": "number",
    "#": "number",
    "max": "maximum",
    "fermentation": "proof",
    **spellings.WORDS,
}
FILLERS = frozenset(
    {
        "the",
        "of",
        "a",
        "an",
        "measured",
        "recorded",
        "final",
        "total",
        "net",
        "approx",
        "each",
        "this",
        "it",
        *spellings.LITTLE_WORDS,
    }
)
# A header of this word alone may mean either column: asking is better than guessing.
UNCLEAR_HEADERS: dict[Words, tuple[str, ...]] = {
    ("mass",): ("dough_g", "loaf_g"),
    ("time",): ("proof_min", "cool_min"),
    ("order",): ("bake_order", "measure_order"),
    ("group",): ("table", "formula"),
    ("baked",): ("loaf_g", "day"),
}
MASSES = frozenset({"dough_g", "loaf_g"})
VOLUMES = frozenset({"loaf_ml", "seed_ml"})  # each is worked out into a volume for every gram
NEAR_WORD = 0.8  # the same for each of its words: "volume plain" is no "volumen pan"
LONGEST = 300  # letters: a longer header is kept, and nothing is sought in it
NEAR = 0.9  # similarity above which a header counts as a misspelling: one letter in about ten
_BRACKETS = re.compile(r"[(\[{]([^()\[\]{}]*)[)\]}]")
_NUMBER = re.compile(r"\d+(?:[.,]\d+)?")
_WORD = re.compile(r"[^\W_]+|#")
_CAPITAL_INSIDE = re.compile(r"(?<=[a-z]{3})(?=[A-Z][a-z]{2})")
# The scale of a score: "1-5", "(1 to 10)", "/10"
_SCALE = re.compile(
    r"[(\[]?(?<![\d-])[01]\s*(?:-|–|—|to|bis|à|a|tot|\.\.+)\s*(?:[3-9]|\d{2,3})\b[)\]]?"
    r"|[(\[]?(?<!\d)\s/\s*(?:5|7|9|10|20|100)\b[)\]]?",
    re.IGNORECASE,
)
_ELIDED = re.compile(r"\b[ld]['’]", re.IGNORECASE)  # l'impasto, temps d'apprêt
_NUMERO = re.compile(r"\bn\s?[°ºo]\.?(?=\s|$)", re.IGNORECASE)
_SET_OFF = re.compile(r"^(.*\S)\s*(?:[/,;]|\s-|\b(?:in|en))\s+([^/,;]+?)\s*$")


@frozen(kw_only=True)
class Header:
    """A column of a file: its header as it stands, its place, the name it is given, the unit that
    it states.
    """

    text: str
    name: str
    place: int = 0
    column: Column | None = None
    unit: Unit | None = None


@frozen(kw_only=True)
class Naming:
    """The headers of one table in file order, with what was found in them and what was taken for
    granted.
    """

    headers: tuple[Header, ...]
    findings: tuple[Finding, ...] = ()
    assumptions: tuple[str, ...] = ()


def tidy_name(text: str) -> str:
    """Return a header as a name: lower case, letters and digits, words joined by underscores."""
    plain = unicodedata.normalize("NFKC", text).lower().replace("°", " ").replace("%", " pct ")
    return "_".join(re.findall(r"[^\W_]+", plain))


@lru_cache(maxsize=4096)
def words(text: str) -> Words:
    """Return a header's meaningful words in alphabetical order, with common abbreviations written
    out.
    """
    usual = unicodedata.normalize("NFKC", _ELIDED.sub(" ", _NUMERO.sub("number ", text)))
    if not usual[1:].islower():
        usual = _CAPITAL_INSIDE.sub(" ", usual)
    written = _WORD.findall(usual)
    found = [word.casefold() for word in written]
    if not usual.isascii():
        found = list(map(without_accents, found))
    meant = [
        SYNONYMS.get(word, word)
        for word, as_written in zip(found, written, strict=True)
        if word not in FILLERS or _is_name(as_written, written)
    ]
    return tuple(sorted(meant or found))


def _is_name(word: str, written: list[str]) -> bool:
    """Return whether a letter names a bread: "Volume A" is of bread A, "VOLUME A" may be à."""
    is_letter = len(word) == 1 and word.isascii() and word.isupper()
    return is_letter and (len(written) < 3 or any(other.islower() for other in written))


def without_accents(text: str) -> str:
    """Return a text without accents and umlauts: ``hauteur``, ``hohe``."""
    if text.isascii():
        return text
    return "".join(
        sign for sign in unicodedata.normalize("NFKD", text) if not unicodedata.combining(sign)
    )


@lru_cache(maxsize=64)
def index_of(vocabulary: Vocabulary, language: str) -> Index:
    """Return words → the columns that they may mean; where languages differ, the sheet's own comes
    first.
    """
    index: dict[Words, tuple[Column, ...]] = {}
    for tongue in dict.fromkeys((language, "", *LANGUAGES)):
        for column in vocabulary:
            for key in dict.fromkeys(map(words, _called(column, tongue))):
                others = index.get(key, ())
                if (
                    key
                    and column not in others
                    and (not others or any(c.unit != column.unit for c in others) or tongue == "")
                ):
                    index[key] = (*others, column)
    return index


def _readings(text: str) -> Iterator[tuple[str, str, bool]]:
    """Yield (name, unit, whether the unit is set off by a sign) for each way to split a header that
    is no essay.
    """
    if len(text) > LONGEST:
        return
    for match in _BRACKETS.finditer(text):
        yield (text[: match.start()] + " " + text[match.end() :]).strip(), match[1].strip(), True
    if set_off := _SET_OFF.match(text):
        yield set_off[1], set_off[2], True
    parts = re.split(r"[\s_]+", text.strip())
    for taken in (2, 1):
        if len(parts) > taken:
            yield " ".join(parts[:-taken]), " ".join(parts[-taken:]), False


def language_of(texts: Sequence[str], vocabulary: Vocabulary) -> str:
    """Return the language that most of a sheet's headers are in, other than English ones; empty
    where none is.
    """
    english = _keys(vocabulary, "")
    foreign = [
        keys
        for text in texts
        if text and not (keys := {words(text), words(_without_unit(text))}) & english
    ]
    counts = {
        tongue: sum(bool(keys & _keys(vocabulary, tongue)) for keys in foreign)
        for tongue in LANGUAGES
    }
    best = max(LANGUAGES, key=counts.__getitem__)
    return best if counts[best] else ""


@lru_cache(maxsize=64)
def _keys(vocabulary: Vocabulary, language: str) -> frozenset[Words]:
    return frozenset(words(name) for column in vocabulary for name in _called(column, language))


def _called(column: Column, language: str) -> tuple[str, ...]:
    """Return what a column is called in a language; "" is English."""
    if language:
        return abroad(column.name, language)
    return (column.name, column.label, *column.spellings)


def read_header(text: str, vocabulary: Vocabulary, language: str = "") -> Header | None:
    """Return what a header means in a vocabulary, or None when it is none of its columns.

    ``language`` is that of the sheet ("de", …), for words that mean one thing here and another
    there.
    """
    return header_in(index_of(vocabulary, language), text)


def header_in(index: Index, text: str) -> Header | None:
    """Return what a header means, as `read_header`, by the index of a vocabulary."""
    whole = index.get(words(text))
    if whole and whole[0].unit and words(text) in UNCLEAR_HEADERS:
        whole = None  # known by its unit alone: "Baked (g)"
    if whole and not _BRACKETS.search(text):
        return Header(text=text, name=whole[0].name, column=whole[0])
    if not whole and _NUMBER.fullmatch(text):
        return None
    for name, spelled, _ in _readings(text):
        unit = find_unit(spelled)
        for column in index.get(words(name), ()) if unit else ():
            if unit and quantity_of(column.unit) == unit.quantity:
                return Header(text=text, name=column.name, column=column, unit=unit)
    return Header(text=text, name=whole[0].name, column=whole[0]) if whole else score_header(text)


def score_header(text: str, named: bool = False) -> Header | None:
    """Return a score: of the crumb, or of whatever a header gives a scale for ("Taste 1-5").

    ``named`` says that the card gives this name to a column, so that "crust" and "crumb" alone are
    scores too.
    """
    scale = _SCALE.search(text)
    name = tidy_name(bare_header(text))
    is_crust = named and name.split("_")[0] in ("crumb", "crust")
    if name and (is_crust or scale) and not name.startswith(CRUMB_PREFIX):
        name = CRUMB_PREFIX + ("score" if name == "crumb" else name.removesuffix("_score"))
    if not name.startswith(CRUMB_PREFIX) or any(find_unit(unit) for _, unit, _ in _readings(text)):
        return None
    return Header(
        text=text, name=name, column=Column(name=name, kind="number", label="", meaning="")
    )


def bare_header(text: str) -> str:
    """Return a header without its scale and without what stands in brackets: ``Porung``."""
    return " ".join(_BRACKETS.sub(" ", _SCALE.sub(" ", text)).split())


def score_on_card(name: str, text: str) -> Header | None:
    """Return a score that the card names: by its name ("crust", "crumb_open"), or by the scale in
    its header.
    """
    by_scale = score_header(f"{name} 1-5") if _SCALE.search(text) else None
    score = score_header(name, named=True) or by_scale
    return replace(score, text=text) if score else None


def _word_for_word(one: list[str], other: list[str]) -> bool:
    """Return whether each word is near its own: "loafvolume" is the loaf's volume, "volume 2" is
    not the volume.
    """
    if "".join(one) == "".join(other):
        return True
    return len(one) == len(other) and all(
        SequenceMatcher(None, *pair).ratio() >= NEAR_WORD for pair in zip(one, other, strict=True)
    )


def _faulty_unit(text: str, vocabulary: Vocabulary) -> tuple[Column, str] | None:
    """Return the column and the text of a set-off unit that does not fit it, such as "Loaf volume
    (g)".
    """
    for name, spelled, set_off in _readings(text):
        for column in index_of(vocabulary, "").get(words(name), ()):
            fits = find_unit(spelled, quantity_of(column.unit)) if column.unit else None
            if column.unit and not fits and (set_off or find_unit(spelled) or is_unclear(spelled)):
                return column, spelled
    return None


def _near(text: str, vocabulary: Vocabulary, language: str) -> Column | None:
    """Return the one column that a misspelt header must mean in English or the sheet's language, or
    None.
    """
    own = [
        (words(name), column)
        for column in vocabulary
        for name in (
            column.name,
            column.label,
            *column.spellings,
            *(abroad(column.name, language) if language else ()),
        )
    ]
    spellings: dict[str, list[Column]] = {}
    for key, column in own:
        spellings.setdefault(" ".join(key), []).append(column)
    plain = " ".join(words(_BRACKETS.sub(" ", text)))
    close = get_close_matches(plain, spellings, n=3, cutoff=NEAR) if len(plain) >= 5 else []
    close = [key for key in close if _word_for_word(plain.split(), key.split())]
    stated = {unit.quantity for _, said, _ in _readings(text) if (unit := find_unit(said))}
    columns = {
        column.name: column
        for key in close
        for column in spellings[key]
        if not stated or quantity_of(column.unit) in stated
    }
    return next(iter(columns.values())) if len(columns) == 1 else None


@dataclass(slots=True)
class _Namer:
    """Names the columns of one table, one after the other, and remembers what there is to say."""

    vocabulary: Vocabulary
    file: str
    line: int
    language: str
    index: Index
    findings: list[Finding] = field(default_factory=list)
    assumptions: list[str] = field(default_factory=list)

    def say(self, code: str, severity: Severity, message: str, fix: str, column: str) -> None:
        self.findings.append(
            Finding(
                code=code,
                severity=severity,
                message=message,
                fix=fix,
                rows=(self.line,),
                file=self.file,
                column=column,
                why="A column that is taken for another gives wrong answers.",
            )
        )

    def name(self, text: str, place: int) -> Header:
        """Return the header of one column that the card does not name."""
        if not text:
            return Header(text=text, name=f"column_{place + 1}")
        if meant := header_in(self.index, text):
            return meant
        if find_unit(text):
            self.say(
                "header-only-unit",
                "error",
                f"The header {text!r} is only a unit.",
                "Put a header with a comma in it in double quotes, or write the unit in brackets.",
                text,
            )
        if fault := _faulty_unit(text, self.vocabulary):
            return self.wrong_unit(text, *fault)
        if meanings := UNCLEAR_HEADERS.get(words(_without_unit(text))):
            self.say(
                "header-unclear",
                "warning",
                f"The header {text!r} may mean {' or '.join(meanings)}.",
                "Rename it, or write in the card under [columns]:  "
                + "  or  ".join(f"{meaning} = {text!r}" for meaning in meanings),
                text,
            )
            return Header(text=text, name=_free(tidy_name(text), self.vocabulary))
        if near := _near(text, self.vocabulary, self.language):
            unit = next(
                (u for _, s, _ in _readings(text) if (u := find_unit(s, quantity_of(near.unit)))),
                None,
            )
            self.say(
                "header-near",
                "note",
                f"The header {text!r} is read as {near.label.lower()}.",
                f"Correct its spelling, or write in the card under [columns]:  {near.name} ="
                f" {text!r}",
                near.name,
            )
            return Header(text=text, name=near.name, column=near, unit=unit)
        own = _free(tidy_name(text), self.vocabulary)
        return Header(text=text, name=own or f"column_{place + 1}")

    def wrong_unit(self, text: str, column: Column, spelled: str) -> Header:
        known = f"is no unit of {column.label.lower()} that can be converted"
        self.say(
            "header-unit",
            "error",
            f"{spelled!r} with the header {text!r} {known}.",
            f"Write the unit in the header, such as  {column.label} ({column.unit})",
            column.name,
        )
        return Header(text=text, name=_free(tidy_name(text), self.vocabulary))

    def from_card(self, name: str, text: str, place: int) -> Header:
        """Return the header that the card names for a column."""
        column = next((c for c in self.vocabulary if c.name == name), None)
        if column is None and (score := score_on_card(name, text)):
            return replace(score, place=place)
        quantity = quantity_of(column.unit) if column and column.unit else None
        unit = (
            next((u for _, s, _ in _readings(text) if (u := find_unit(s, quantity))), None)
            if quantity
            else None
        )
        return Header(text=text, name=name, place=place, column=column, unit=unit)


def _free(name: str, vocabulary: Vocabulary = ()) -> str:
    """Return a name that is neither that of the column of line numbers, which every table has, nor
    one of the vocabulary's, which such a column is not: "Dough (g#)".
    """
    if name in {column.name for column in vocabulary}:
        return f"{name}_as_written"
    return "line_in_file" if name == "line" else name


def _without_unit(text: str) -> str:
    return next((name for name, spelled, _ in _readings(text) if find_unit(spelled)), text)


def name_columns(
    texts: Sequence[str],
    units: Sequence[str],
    vocabulary: Vocabulary,
    mapped: Mapping[str, str],
    *,
    file: str,
    line: int,
) -> Naming:
    """Return the headers of a table, each column under a name of its own.

    ``units`` is the row of units under the headers, if there is one. ``mapped`` is the card's
    ``[columns]``: canonical name → header. What the card says comes first; of two headers that mean
    the same, the first keeps the name and an error names both. With ``mix = "loaf"`` a column has
    both meanings.
    """
    language = language_of(texts, vocabulary)
    namer = _Namer(vocabulary, file, line, language, index_of(vocabulary, language))
    by_card: dict[str, list[str]] = {}
    for name, header in mapped.items():
        by_card.setdefault(loose(named_on_card(header, texts) or header), []).append(name)
    given, found, wholes = [], [], []
    for place, text in enumerate(texts):
        whole = f"{text} ({units[place]})" if units and units[place] and text else text
        wholes.append(whole)
        own = [
            namer.from_card(
                name, whole if loose(mapped[name]) == loose(text) else mapped[name], place
            )
            for name in by_card.get(loose(text), ())
        ]
        given += [replace(header, text=text) for header in own]
        meant = header_in(namer.index, whole) if own else namer.name(whole, place)
        if meant and not (own and _is_instead(meant, own)):
            found.append(replace(meant, text=text, place=place))
    return _distinct(given, _with_only_mass(given, found, wholes, namer), namer)


def _with_only_mass(
    given: list[Header], found: list[Header], wholes: list[str], namer: _Namer
) -> list[Header]:
    """Return the headers with a bare "Weight (g)" as the baked mass, where it is the only mass and
    a volume stands beside it; a warning says so.
    """
    names = {header.name for header in (*given, *found)}
    bare = [h for h in found if h.column is None and words(_without_unit(h.text)) == ("mass",)]
    column = next((c for c in namer.vocabulary if c.name == "loaf_g"), None)
    if len(bare) != 1 or column is None or names & MASSES or not names & VOLUMES:
        return found
    own, text, whole = bare[0], bare[0].text, wholes[bare[0].place]
    unit = next((u for _, s, _ in _readings(whole) if (u := find_unit(s))), None)
    if unit and unit.quantity != "mass":
        return found
    namer.findings = [f for f in namer.findings if f.column != whole]
    namer.say(
        "header-unclear",
        "warning",
        f"The header {text!r} may mean the dough or the baked loaf; it is taken for the baked mass,"
        " since it is the only mass and a volume stands beside it.",
        f"Write in the card under [columns]  loaf_g = {text!r}  if that is right, or  dough_g ="
        f" {text!r}",
        "loaf_g",
    )
    meant = replace(own, name="loaf_g", column=column, unit=unit)
    return [meant if header is own else header for header in found]


def _is_instead(meant: Header, own: list[Header]) -> bool:
    """Return whether what the card says of a column takes the place of what its header means by
    itself.
    """
    kinds = {header.column.kind for header in own if header.column}
    return (
        meant.name in {header.name for header in own}
        or meant.column is None
        or kinds != {"text"}
        or (meant.column.kind != "text")
    )


def unit_of_header(text: str, below: str, canonical: str) -> str:
    """Return the symbol of the unit that a header, or the line of units below it, states; empty
    where none does.
    """
    quantity = quantity_of(canonical)
    spelled = [below, *(unit for _, unit, _ in _readings(text))]
    return next(
        (unit.symbol for one in spelled if one and (unit := find_unit(one, quantity)) and quantity),
        "",
    )


def named_on_card(header: str, texts: Sequence[str]) -> str | None:
    """Return the header in the file that the card means: the same, or the same without a unit that
    the card adds.
    """
    there = {loose(text): text for text in texts if text}
    bare = _BRACKETS.sub(" ", header) if find_unit(" ".join(_BRACKETS.findall(header))) else header
    return there.get(loose(header)) or there.get(loose(bare))


def loose(text: str) -> str:
    """Return a header as it is compared with the card's: without regard to case and spaces."""
    return " ".join(text.casefold().split())


def _distinct(given: list[Header], found: list[Header], namer: _Namer) -> Naming:
    """Give every column a name of its own, with an error where two headers mean the same."""
    taken: dict[str, Header] = {}
    places = {header.place for header in given}
    for header in (*given, *found):
        first = taken.setdefault(header.name, header)
        is_of_card = any(header is one for one in given)
        if first is header or (header.place in places and not is_of_card):
            continue
        spare = _spare_name(header, {other.name for other in found} | set(taken))
        if first in given and not is_of_card:
            namer.assumptions.append(
                f"The column {header.text!r} is kept as {spare}, because the card takes "
                f"{header.name} from {first.text!r}."
            )
        else:
            namer.say(
                "headers-same",
                "error",
                f"The headers {first.text!r} and {header.text!r} both mean {header.name}.",
                "Rename one of them in the file."
                if loose(first.text) == loose(header.text)
                else f"Rename one, or choose in the card under [columns]:  {header.name} = "
                f"{first.text!r}",
                header.name,
            )
        taken[spare] = replace(header, name=spare, column=None, unit=None)
    headers = tuple(sorted(taken.values(), key=lambda header: header.place))
    return Naming(
        headers=headers, findings=tuple(namer.findings), assumptions=tuple(namer.assumptions)
    )


def _spare_name(header: Header, taken: set[str]) -> str:
    stem = tidy_name(header.text) or header.name
    return next(name for n in range(2, len(taken) + 3) if (name := f"{stem}_{n}") not in taken)

"""What a bake day's text means: a date in one of its many ways of writing, a day of the week, a
number.
"""

from __future__ import annotations

import datetime
import re
import unicodedata
from collections.abc import Iterable, Iterator

from ..frozen import frozen

# Days of the week and months in English, German, French, Spanish, Italian and Dutch, without
# accents; a word is known by its beginning, as people cut them short: at least two letters of a day
# and three of a month.
WEEKDAYS = (
    ("monday", "montag", "lundi", "lunes", "lunedi", "maandag"),
    ("tuesday", "dienstag", "mardi", "martes", "martedi", "dinsdag"),
    ("wednesday", "mittwoch", "mercredi", "miercoles", "mercoledi", "woensdag"),
    ("thursday", "donnerstag", "jeudi", "jueves", "giovedi", "donderdag"),
    ("friday", "freitag", "vendredi", "viernes", "venerdi", "vrijdag"),
    ("saturday", "samstag", "samedi", "sabado", "sabato", "zaterdag", "sonnabend"),
    ("sunday", "sonntag", "dimanche", "domingo", "domenica", "zondag"),
)
MONTHS = (
    ("january", "januar", "janvier", "enero", "gennaio", "januari"),
    ("february", "februar", "fevrier", "febrero", "febbraio", "februari"),
    ("march", "marz", "mars", "marzo", "maart", "mrt", "maerz"),
    ("april", "avril", "abril", "aprile"),
    ("may", "mai", "mayo", "maggio", "mei"),
    ("june", "juni", "juin", "junio", "giugno"),
    ("july", "juli", "juillet", "julio", "luglio"),
    ("august", "aout", "agosto", "augustus"),
    ("september", "septembre", "septiembre", "settembre"),
    ("october", "oktober", "octobre", "octubre", "ottobre"),
    ("november", "novembre", "noviembre"),
    ("december", "dezember", "decembre", "diciembre", "dicembre"),
)


def words_of(*lines: str) -> frozenset[str]:
    """Return the words of a list."""
    return frozenset(" ".join(lines).split())


NUMBER_WORDS = {
    word: place
    for place, words in enumerate(
        (
            "one eins un une uno una een first erste erster premier primero primo eerste",
            "two zwei deux dos due twee second zweite zweiter deuxieme segundo secondo tweede",
            "three drei trois tres tre drie third dritte dritter troisieme tercero terzo derde",
            "four vier quatre cuatro quattro fourth vierte vierter quatrieme cuarto quarto vierde",
            "five funf cinq cinco cinque vijf fifth",
            "six sechs seis sei zes sixth",
            "seven sieben sept siete sette zeven seventh",
            "eight acht huit ocho otto eighth",
            "nine neun neuf nueve nove negen ninth",
            "ten zehn dix diez dieci tien tenth",
        ),
        start=1,
    )
    for word in words.split()
}
DAY_WORDS = words_of(
    "day d bake baking test tag backtag jour jr dia giorno g dag t j no nr number the"
)
TIMES_OF_DAY = words_of(
    "am pm early late morning noon afternoon evening night fruh spat morgens vormittag vorm"
    " vormittags mittag mittags nachmittag nachmittags nachm abend abends nachts matin midi soir"
    " nuit manana mediodia tarde noche mattina mattino mezzogiorno pomeriggio sera notte ochtend"
    " ochtends morgen middag middags namiddag avond avonds nacht vm nm"
)
SMALL_WORDS = words_of("in the at am im le l la el por de del di al s apres a m p")
LONGEST = 60  # characters: longer texts are no day
_CLOCK = r"\d{1,2}(?::\d{2}(?::\d{2}(?:[.,]\d+)?)?|h\d{0,2})"
_TIME_AFTER = re.compile(
    r"^(.*?\S)[\s,t]+(?:at |um |a |om |alle"
    rf" )?{_CLOCK}\s*(?:uhr|h|hrs|[ap]\.?m\.?)?(?:z|[+-]\d\d:?\d\d)?$",
    re.IGNORECASE,
)
_TIME_BEFORE = re.compile(rf"^{_CLOCK}(?:\s*(?:uhr|h|[ap]\.?m\.?))?[\s,]+(\S.*)$", re.IGNORECASE)


@frozen
class Date:
    """A date; the year may be unsaid."""

    year: int | None
    month: int
    day: int


def plain(text: str) -> str:
    """Return a text in lower case without accents."""
    apart = unicodedata.normalize("NFKD", text.casefold())
    return "".join(sign for sign in apart if not unicodedata.combining(sign))


def without_time(text: str) -> str:
    """Return a date or a day of the week without the time of day that stands with it, as a clock
    or a word tells it; other texts as they are.
    """
    if len(text) > LONGEST:
        return text
    if any(sign.isdigit() for sign in text):
        for pattern in (_TIME_AFTER, _TIME_BEFORE):
            if (found := pattern.match(text)) and (
                dates(found[1]) or weekday(found[1]) is not None
            ):
                return found[1].rstrip(" ,")
    return _without_word_of_time(text)


def _says_a_day(text: str) -> bool:
    """Return whether a text is a date, a day of the week or "day 1"; a number alone may be a
    time.
    """
    numbered = number(text) is not None and not text.isdigit()
    return bool(dates(text)) or weekday(text) is not None or numbered


def _without_word_of_time(text: str) -> str:
    """Return a day without a word such as "morning" or "PM" beside it; other texts as they are."""
    text = text.strip()
    for sign in re.finditer(r"[\s,;/()–-]+", text):
        before, after = text[: sign.start()], text[sign.end() :]
        # before a German date stands "am"
        for day, time, is_none in ((before, after, ()), (after, before, ("am",))):
            words = set(re.findall(r"[^\W_]+", plain(time).replace(".", "")))
            said = words & TIMES_OF_DAY - {*is_none}
            if said and words <= TIMES_OF_DAY | SMALL_WORDS and _says_a_day(day):
                return day
    return text


def dates(text: str) -> frozenset[Date]:
    """Return the dates that a text may mean: two for 03/04/2026, none where it is no date."""
    words = plain(text[: LONGEST + 1])
    if len(words) > LONGEST:
        return frozenset()
    # "Mar 3.4." is a Tuesday (martes, martedì), "3 Mar" a day of March
    for said in dict.fromkeys((_without_weekday(words), words)):
        found = frozenset(Date(*each) for each in _readings(said.strip(" .,")) if _exists(*each))
        if found:
            return found
    return frozenset()


def _without_weekday(words: str) -> str:
    """Return plain words without the day of the week that stands beside something else."""
    names = re.findall(r"[a-z]+", words)
    if names and weekdays(names[0]) and weekday(words) is None:
        return words.replace(names[0], " ", 1)
    return words


def _readings(words: str) -> Iterator[tuple[int | None, int, int]]:
    numbers = [int(number) for number in re.findall(r"\d+", words)]
    if re.fullmatch(r"\d{4}([-/.])\d{1,2}\1\d{1,2}", words):
        yield numbers[0], numbers[1], numbers[2]
    elif re.fullmatch(r"(?:19|20)\d{6}", words):
        yield int(words[:4]), int(words[4:6]), int(words[6:])
    elif found := re.fullmatch(r"\d{1,2}([-/.])\s?\d{1,2}(?:\1\s?(\d{4}|\d{2}))?", words):
        year = _year(found[2])
        if year is not None or found[1] != "-":
            yield year, numbers[1], numbers[0]
            if found[1] != ".":
                yield year, numbers[0], numbers[1]
    elif re.search(r"[a-z]{3}", words) and 1 <= len(numbers) <= 2:
        yield from _with_month(words, numbers)


def _with_month(words: str, numbers: list[int]) -> Iterator[tuple[int | None, int, int]]:
    """Yield the readings of a date with the name of its month."""
    names = [
        name
        for name in re.findall(r"[a-z]+", words)
        if name not in ("st", "nd", "rd", "th", "de", "of", "the", "er", "del", "den", "le")
    ]
    month = month_of(names[0]) if len(names) == 1 else None
    if month is None:
        return
    if len(numbers) == 1:
        yield None, month, numbers[0]
    elif numbers[0] > 31:
        yield _year(str(numbers[0])), month, numbers[1]
    else:
        yield _year(str(numbers[1])), month, numbers[0]


def _year(text: str | None) -> int | None:
    return None if not text else int(text) + (2000 if len(text) < 3 else 0)


def _exists(year: int | None, month: int, day: int) -> bool:
    try:
        datetime.date(year or 2024, month, day)
    except ValueError:
        return False
    return True


def month_of(word: str) -> int | None:
    """Return the month (1 to 12) that a word of three letters or more begins to spell, or None."""
    found = {
        place
        for place, names in enumerate(MONTHS, start=1)
        for name in names
        if name.startswith(word) and len(word) >= 3
    }
    return found.pop() if len(found) == 1 else None


def weekdays(text: str) -> frozenset[tuple[int, int]]:
    """Return the days of the week (Monday is 0) that a text spells or begins to spell, each with
    its language.
    """
    word = plain(text[:LONGEST]).strip(" .,")
    if not word.isalpha() or len(word) < 2:
        return frozenset()
    return frozenset(
        (language, place)
        for place, names in enumerate(WEEKDAYS)
        for language, name in enumerate(names)
        if name.startswith(word)
    )


def weekday(text: str) -> int | None:
    """Return the one day of the week (Monday is 0) that a text may mean in all languages, or
    None.
    """
    found = {place for _, place in weekdays(text)}
    return found.pop() if len(found) == 1 else None


def number(text: str) -> int | None:
    """Return the number of a day: 2 for "2", "02", "day 2", "D2", "second", "2nd"; None where it is
    none.
    """
    words = re.findall(r"[a-z]+|\d+", _without_weekday(plain(text[:LONGEST])))
    digits = [word for word in words if word.isdigit()]
    others = (
        {NUMBER_WORDS.get(word, word) for word in words if not word.isdigit()}
        - DAY_WORDS
        - {"st", "nd", "rd", "th"}
    )
    if (
        len(digits) == 1
        and not others
        and len(digits[0]) < 4
        and not re.search(r"\d[.,]\d|-\d", text)
    ):
        return int(digits[0])
    left = [word for word in others if isinstance(word, int)]
    return left[0] if not digits and len(left) == 1 == len(others) else None


def kind_of(text: str) -> str:
    """Return what kind of name a day has: "date", "day of the week", "number", or "" for
    another.
    """
    if dates(text):
        return "date"
    if weekdays(text):
        return "day of the week"
    return "number" if number(text) is not None else ""


def are_days(texts: Iterable[str]) -> bool:
    """Return whether all texts are days of one kind."""
    kinds = {kind_of(text) for text in texts}
    return len(kinds) == 1 and "" not in kinds


def keys(text: str) -> frozenset[tuple[str, int, int]]:
    """Return what two ways of writing one day have in common: no other texts need be compared."""
    read = dates(text) | year_first(text)
    found = {("date", date.month, date.day) for date in read}
    found |= {
        ("week", 0, datetime.date(date.year, date.month, date.day).weekday())
        for date in read
        if date.year
    }
    found |= {("week", 0, place) for _, place in weekdays(text)}
    day = number(text)
    return frozenset(found | ({("number", 0, day)} if day is not None else set()))


def pattern(text: str) -> str:
    """Return how a text is written: years as y, digits as 0, letters as a, without what repeats."""
    words = re.sub(r"\d", "0", re.sub(r"[a-z]", "a", plain(text[:LONGEST])))
    return re.sub(r"(.)\1+", r"\1", words.replace("0000", "y"))


def year_first(text: str) -> frozenset[Date]:
    """Return the date that 26-03-01 is where its year stands first; beside dates written in full
    alone can it be told from the other readings.
    """
    if not re.fullmatch(r"\d{2}([-/.])\d{2}\1\d{2}", text.strip()):
        return frozenset()
    year, month, day = numbers_in(text)
    return frozenset([Date(2000 + year, month, day)] if _exists(2000 + year, month, day) else [])


def numbers_in(text: str) -> list[int]:
    """Return the numbers of a text, in order."""
    return [int(number) for number in re.findall(r"\d+", text[:LONGEST])]


def same_day(one: str, other: str) -> bool:
    """Return whether two texts may mean the same day, written in two ways."""
    mine, theirs = dates(one), dates(other)
    if mine and theirs:
        if pattern(one) == pattern(other):
            return mine == theirs and numbers_in(one) == numbers_in(other)
        return any(
            (a.month, a.day) == (b.month, b.day) and (a.year == b.year or None in (a.year, b.year))
            for a in mine | year_first(one)
            for b in theirs | year_first(other)
        )
    if mine or theirs:
        falls_on = {
            datetime.date(d.year, d.month, d.day).weekday() for d in mine | theirs if d.year
        }
        return bool({weekday(one), weekday(other)} & falls_on)
    if weekdays(one) & weekdays(other) or (
        (day := weekday(one)) is not None and day == weekday(other)
    ):
        return True
    first, second = _weekday_before(one), _weekday_before(other)
    if first and second and not first & second:  # Monday of week 1, Friday of week 1
        return False
    return number(one) is not None and number(one) == number(other)


def _weekday_before(text: str) -> frozenset[tuple[int, int]]:
    """Return the days of the week that the first word of a text may mean, each with its
    language.
    """
    return weekdays(re.split(r"[^\w]|\d", text.strip(), maxsplit=1)[0])

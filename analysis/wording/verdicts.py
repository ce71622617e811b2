"""What a verdict means, and how a likely range is said: of formulas, factors and scores alike."""

from __future__ import annotations

from ...trials.words.numbers import NumberStyle, range_end
from ..verdict import Verdict

# beside what matters, {}; {these} are what the answer rests on
_SAID: dict[Verdict, str] = {
    "matters": "All of that is at least the {} that you said matters.",
    "real, size unsure": (
        "The difference is real; whether it reaches the {} that you said matters is not sure."
    ),
    "real but small": "The difference is real, but smaller than the {} that you said matters.",
    "no difference that matters": (
        "A difference, if there is one, is smaller than the {} that you said matters."
    ),
    "not settled": (
        "So it is not settled: these {these} could have come out like this if there were no"
        " difference at all, and also if there were one of {} or more."
    ),
}
# where nobody said what matters: no other verdict is possible then
_NOBODY_SAID: dict[Verdict, str] = {
    "real, size unsure": (
        "The difference is real; whether it matters depends on what nobody has said yet."
    ),
    "not settled": (
        "So it is not settled: these {these} could have come out like this if there were no"
        " difference at all."
    ),
}


# the same in words that a child of ten knows
_FOR_CLASS: dict[Verdict, str] = {
    "matters": "The difference is real, and big enough to matter to us.",
    "real, size unsure": (
        "The difference is real. Whether it is as big as the {} that would matter to us, we cannot"
        " tell yet."
    ),
    "real but small": "The difference is real, but smaller than the {} that would matter to us.",
    "no difference that matters": (
        "If the breads differ at all, it is by less than the {} that would matter to us."
    ),
    "not settled": "That may be chance, or it may not: we cannot tell yet.",
}
_NOBODY_SAID_TO_CLASS: dict[Verdict, str] = {
    "real, size unsure": (
        "The difference is real. How big it must be to matter, nobody has said yet."
    ),
    "not settled": _FOR_CLASS["not settled"],
}
SHORT_FOR_CLASS: dict[Verdict, str] = {
    "matters": "a real difference, big enough to matter",
    "real, size unsure": "a real difference",
    "real but small": "a real difference, but a small one",
    "no difference that matters": "no difference that would matter",
    "not settled": "we cannot tell yet",
}


def verdict_for_class(verdict: Verdict, matters: str) -> str:
    """Return what a verdict means, for a class; ``matters`` as for `verdict_means`."""
    return (_FOR_CLASS if matters else _NOBODY_SAID_TO_CLASS)[verdict].format(matters)


def verdict_means(verdict: Verdict, matters: str, these: str = "mixes") -> str:
    """Return what a verdict means beside what matters, as words with its unit; "" where nobody
    said that.
    """
    return (_SAID if matters else _NOBODY_SAID)[verdict].format(matters, these=these)


def likely(low: float, high: float, places: int, style: NumberStyle) -> str:
    """Return an interval as it follows a number: ``likely between 0.41 and 0.49``."""
    return likely_words(
        range_end(low, places, style), range_end(high, places, style), low > 0 or high < 0
    )


def likely_words(low: str, high: str, real: bool) -> str:
    """Return a range whose ends are words already; one that holds zero is not claimed to lie
    beside it.
    """
    return (
        f"likely between {low} and {high}" if real else f"anything from {low} to {high} is likely"
    )

"""Six kitchens and what a plan of each must be, and the checked values of planning
(tests/reference).
"""

import json
from functools import cache

from .published import REFERENCE

# two doughs for a card, to be weighed out
FORMULAS = """
[formulas.house]
flour = 100
water = 60
[formulas.malted]
flour = 98
malted_flour = 2
water = 60
"""


@cache
def kitchens() -> dict[str, dict]:
    """Name → card, seeds and what is expected."""
    entries = json.loads((REFERENCE / "kitchens_public.json").read_text("utf-8"))
    return {entry["name"]: entry for entry in entries}


@cache
def checked(name: str):
    """The expected values of one entry of planning_checks.json."""
    entries = json.loads((REFERENCE / "planning_checks.json").read_text("utf-8"))
    return next(entry["expected"] for entry in entries if entry["name"] == name)


def card_text_of(factors: str, kitchen: str, rest: str = "") -> str:
    """A card with these factors and this kitchen."""
    return f'measure = "specific_volume"\n{rest}\n[factors]\n{factors}\n[kitchen]\n{kitchen}\n'


def slips_of(code: str) -> set[str]:
    """Return what a code becomes by one wrong digit, or by two neighbours exchanged."""
    wrong = {code[:i] + digit + code[i + 1 :] for i in range(len(code)) for digit in "0123456789"}
    exchanged = {code[:i] + code[i + 1] + code[i] + code[i + 2 :] for i in range(len(code) - 1)}
    return (wrong | exchanged) - {code}

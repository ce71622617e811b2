"""The published data sets as numbers, and the columns that a published model is made of."""

import csv
import json
import math
from functools import cache
from pathlib import Path

import numpy as np
from scipy.special import gammaln

REFERENCE = Path(__file__).parent / "reference"


@cache
def expected(name: str) -> dict:
    """The expected values of one entry of expected.json."""
    entries = json.loads((REFERENCE / "expected.json").read_text("utf-8"))
    return next(entry["expected"] for entry in entries if entry["name"] == name)


@cache
def nist() -> list[dict]:
    """NIST's certified one-way analyses of variance."""
    return json.loads((REFERENCE / "nist_anova.json").read_text("utf-8"))


@cache
def table(file: str) -> dict[str, np.ndarray]:
    """A data file, column by column, as text."""
    with (REFERENCE / file).open(encoding="utf-8", newline="") as lines:
        rows = list(csv.DictReader(lines))
    return {name: np.array([row[name] for row in rows]) for name in rows[0]}


def together(*labels: np.ndarray) -> np.ndarray:
    """Labels of the combinations of several groupings."""
    return np.array(["/".join(parts) for parts in zip(*labels, strict=True)])


def sum_to_zero(labels: np.ndarray) -> np.ndarray:
    """Columns of a category, one fewer than its levels (in alphabetical order), the last level −1
    in all.
    """
    levels, code = np.unique(labels, return_inverse=True)
    return np.vstack([np.eye(len(levels) - 1), -np.ones(len(levels) - 1)])[code]


def interaction(first: np.ndarray, second: np.ndarray) -> np.ndarray:
    """All products of a column of one term with a column of another."""
    return (first[:, :, None] * second[:, None, :]).reshape(len(first), -1)


def design(**terms: np.ndarray) -> tuple[np.ndarray, dict[str, np.ndarray]]:
    """The intercept and the terms as one matrix, and each term's hypothesis (its rows of the
    identity).
    """
    blocks = [np.ones((len(next(iter(terms.values()))), 1)), *terms.values()]
    ends = np.cumsum([block.shape[1] for block in blocks])
    rows = np.split(np.eye(ends[-1]), ends[:-1])
    return np.hstack(blocks), dict(zip(terms, rows[1:], strict=True))


def two_factors(
    data: dict[str, np.ndarray], first: str, second: str, crossed: bool = True
) -> tuple[np.ndarray, dict[str, np.ndarray]]:
    """The design of two categories, with their interaction unless told otherwise."""
    a, b = sum_to_zero(data[first]), sum_to_zero(data[second])
    terms = {first: a, second: b}
    return design(**terms, **({f"{first} x {second}": interaction(a, b)} if crossed else {}))


def mean_of_estimated_sd(df: float) -> float:
    """Return c₄: the mean of an estimated standard deviation over the true one (normal errors)."""
    return math.sqrt(2 / df) * math.exp(gammaln((df + 1) / 2) - gammaln(df / 2))


def group_effects(m):
    """Return the predicted effect of each day, mix … (BLUP), by label, of a fit."""
    groupings = m.fits.reduced.groupings
    parts = np.split(m.effects, np.cumsum(groupings.counts)[:-1])
    return {
        name: dict(zip(labels, part.tolist(), strict=True))
        for name, labels, part in zip(groupings.names, groupings.labels, parts, strict=True)
    }

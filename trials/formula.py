"""Formulas in baker's percentages: each ingredient as a percentage of the flour (common practice,
no source).
"""

from __future__ import annotations

from collections.abc import Collection, Mapping


def is_flour(ingredient: str) -> bool:
    """Return whether an ingredient counts as flour: a word of its name ends in flour or meal, or is
    semolina.
    """
    return any(
        word.endswith(("flour", "flours", "meal")) or word == "semolina"
        for word in _words(ingredient)
    )


def is_water(ingredient: str) -> bool:
    """Return whether an ingredient is water: a word of its name."""
    return "water" in _words(ingredient)


def _words(ingredient: str) -> list[str]:
    return ingredient.lower().replace("-", " ").replace("_", " ").split()


def flour_total(parts: Mapping[str, float], flours: Collection[str] | None = None) -> float:
    """Return the sum of the flours in the unit of ``parts``; ``flours`` names them where the names
    do not tell.

    Raises
    ------
    ValueError: there is no flour, so that no percentage has a meaning.
    """
    named = [name for name in parts if (name in flours if flours is not None else is_flour(name))]
    total = sum(parts[name] for name in named)
    if total <= 0:
        raise ValueError(f"no flour among: {', '.join(parts) or 'nothing'}")
    return total


def bakers_percentages(
    parts: Mapping[str, float], flours: Collection[str] | None = None
) -> dict[str, float]:
    """Return each ingredient as a percentage of the flour's mass.

    ``parts`` are masses in one unit, or percentages already. Common practice, no source: 16 kg
    flour with 9.25 kg water is 57.8 %.
    """
    flour = flour_total(parts, flours)
    return {name: 100 * amount / flour for name, amount in parts.items()}


def hydration(parts: Mapping[str, float], flours: Collection[str] | None = None) -> float:
    """Return the water as a percentage of the flour's mass; 1 mL of water counts as 1 g."""
    percentages = bakers_percentages(parts, flours)
    return sum(share for name, share in percentages.items() if is_water(name))


def flour_share(parts: Mapping[str, float], flours: Collection[str] | None = None) -> float:
    """Return the flour's share of the dough's mass, between 0 and 1: 100 / sum of the baker's
    percentages.
    """
    return flour_total(parts, flours) / sum(parts.values())

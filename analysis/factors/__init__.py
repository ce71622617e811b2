"""Which factor changed the loaf, and by how much: terms, sizes, curves, scatter, single runs, the grid of measures."""

from .analyse import FactorEffects, FactorSizes, factor_effects, factor_sizes

__all__ = ["FactorEffects", "FactorSizes", "factor_effects", "factor_sizes"]

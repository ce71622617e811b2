"""Two formulas, compared fairly: the difference, its verdict, a second opinion, what would settle it."""

from .compare import Comparison, compare_formulas

__all__ = ["Comparison", "compare_formulas"]

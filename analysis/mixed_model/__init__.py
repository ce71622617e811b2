"""The engine: restricted maximum likelihood with Kenward and Roger's tests, where loaves share a
mix or a day.

Read in this order: ``least_squares``, ``groupings``, ``components``, ``sufficient``, ``reml``,
``ascent``, ``kenward_roger``, ``many_fits``; ``fitting`` puts them together.
"""

from .fitting import (
    Contrast,
    FTest,
    NotIdentifiable,
    NoVariation,
    RankDeficient,
    RemlFit,
    RemlFits,
    fit_reml,
    prepare,
)

__all__ = [
    "Contrast",
    "FTest",
    "NoVariation",
    "NotIdentifiable",
    "RankDeficient",
    "RemlFit",
    "RemlFits",
    "fit_reml",
    "prepare",
]

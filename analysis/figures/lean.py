"""Matplotlib and seaborn loaded without what no picture of ours uses, which is most of what they
load.

Only in a process that does nothing else: in a notebook a reader may use of them what we do not.
"""

from __future__ import annotations

import sys
from typing import Any

from ...trials.lazy_names import run_when_asked

# density curves, trees and depth: loaded where they are there, and done without where not
NOT_DRAWN = ("scipy.stats", "scipy.cluster", "mpl_toolkits.mplot3d")
# text set by TeX, and styles of others
NOT_ASKED = ("matplotlib.dviread", "matplotlib.style")


def load_lean() -> None:
    """Let both libraries be loaded lean from now on, where neither is loaded yet."""
    sys.modules.update(dict.fromkeys(NOT_DRAWN))  # type: ignore[arg-type]  # as if not installed
    run_when_asked(*NOT_ASKED)
    from matplotlib.artist import ArtistInspector

    inspector: Any = ArtistInspector
    # asked for a page of help on everything that is drawn, which nobody reads here
    inspector.get_aliases = lambda self: {}
    inspector.get_setters = lambda self: []

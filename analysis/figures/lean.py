"""Matplotlib and seaborn loaded without what no picture of ours uses, which is most of what they
load.

Only for a command: in a notebook a reader may use of them what we do not.
"""

from __future__ import annotations

import sys
import warnings
from importlib import import_module
from typing import Any

from ...trials.lazy_names import run_when_asked

# density curves, trees and depth: loaded where they are there, and done without where not
NOT_DRAWN = ("scipy.stats", "scipy.cluster", "mpl_toolkits.mplot3d")
# text set by TeX, and styles of others
NOT_ASKED = ("matplotlib.dviread", "matplotlib.style")


def load_lean() -> None:
    """Load both, where neither is loaded yet; what they did without can be loaded afterwards."""
    if "matplotlib" in sys.modules:
        return
    absent = set(NOT_DRAWN) - set(sys.modules)
    sys.modules.update(dict.fromkeys(absent))  # type: ignore[arg-type]  # as if not installed
    run_when_asked(*NOT_ASKED)
    from matplotlib.artist import ArtistInspector

    inspector: Any = ArtistInspector
    asked = inspector.get_aliases, inspector.get_setters
    # for a page of help on everything that is drawn, which nobody reads here
    inspector.get_aliases = lambda self: {}
    inspector.get_setters = lambda self: []
    try:
        with warnings.catch_warnings():
            warnings.filterwarnings("ignore", "Unable to import Axes3D")
            import_module("seaborn")
    finally:
        inspector.get_aliases, inspector.get_setters = asked
        for name in absent:
            del sys.modules[name]

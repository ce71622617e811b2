"""How often a slip of a whole mix, a day or two labels is found, on 24, 48 and 96 loaves, with the
short card and the full one. Run with  -m benchmark -s

Found: a warning or an error names one of the lines that were changed. Beside all trials stand those
in which the slip is more than four times the scatter of loaves.
"""

from __future__ import annotations

import zlib

import numpy as np
import pandas as pd
import pytest
from fairloaf.trials import TrialCard
from fairloaf.trials.checks import run_checks

from ..mix_slips import KINDS, LAYOUTS, LOAF_SCATTER, Plant, baked, card_of
from ..simulated_bakes import as_trial

TRIALS = 12
CARDS = {"short": ("formula",), "full": ("formula", "tin", "proof_min")}
LARGE = 4  # times the scatter of loaves


def found(loaves: pd.DataFrame, sound: pd.DataFrame, card: TrialCard) -> bool:
    """Return whether something but a note names a line that was changed."""
    same = loaves.reindex(columns=sound.columns).astype(object) == sound.astype(object)
    changed = set(np.flatnonzero(~same.all(axis=1)) + 2)
    told = [f for f in run_checks(as_trial(loaves, card)) if f.severity != "note"]
    return any(changed & set(f.rows) for f in told)


def rates(
    plant: Plant, layouts: tuple[dict[str, int], ...], factors: tuple[str, ...], seed: int
) -> str:
    """Return the share found in all trials, and in those whose slip is large."""
    rng, hits, sizes = np.random.default_rng(seed), [], []
    for i in range(TRIALS):
        sound = baked(rng, layouts[i % len(layouts)])
        loaves = sound.copy()
        size = plant(loaves, rng)
        if size is not None:
            hits.append(found(loaves, sound, card_of(sound, *factors)))
            sizes.append(size)
    large = np.array(sizes) > LARGE * LOAF_SCATTER
    of_large = f"{100 * np.mean(np.array(hits)[large]):.0f}" if large.any() else "-"
    return f"{100 * np.mean(hits):4.0f} ({of_large:>3})"


@pytest.mark.benchmark
@pytest.mark.parametrize("kind", KINDS)
def test_slips_of_whole_mixes(kind):
    said = [
        f"{name} card  "
        + "  ".join(
            f"{n}: {rates(KINDS[kind], layouts, factors, zlib.crc32(kind.encode()))}"
            for n, layouts in LAYOUTS.items()
        )
        for name, factors in CARDS.items()
    ]
    print(f"\n{kind:<32} " + "   ".join(said))

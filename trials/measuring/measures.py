"""Measures of a loaf, worked out from what was weighed and measured. Each takes numbers or Series.

A missing input gives a missing measure.
"""

from __future__ import annotations

from typing import TypeVar

import numpy as np
import pandas as pd

Number = TypeVar("Number", float, pd.Series)

# Density of the crumb without its air, g/mL: a rule of thumb for crumb and crust with about 38 %
# water, mixed by volume from the component densities of Choi and Okos 1986 (formulas from memory).
# 0.05 more or less moves the air fraction of a loaf of 4 mL/g by less than 0.01.
CRUMB_DENSITY_G_ML = 1.27


def volume_by_displacement(box_ml: Number, seed_ml: Number) -> Number:
    """Return the loaf's volume in mL: seed that fills the empty box, less the seed left over around
    the loaf.

    ``box_ml`` is the empty box's volume in seed (mL), ``seed_ml`` the seed that fits in around the
    loaf (mL). Source: AACC Approved Method 10-05.01 (seed displacement).
    """
    return box_ml - seed_ml


def specific_volume(loaf_ml: Number, loaf_g: Number) -> Number:
    """Return loaf volume / baked mass in mL/g. Source: AACC Approved Method 10-05.01."""
    return loaf_ml / loaf_g


def bake_loss_pct(dough_g: Number, loaf_g: Number) -> Number:
    """Return the mass lost in the oven as a percentage of the dough's mass (common practice, no
    source).
    """
    return 100 * (dough_g - loaf_g) / dough_g


def air_fraction(
    loaf_ml: Number, loaf_g: Number, density_g_ml: float = CRUMB_DENSITY_G_ML
) -> Number:
    """Return the share of the loaf's volume that is air: 1 − (mass / volume) / density of the solid
    crumb.
    """
    return 1 - (loaf_g / loaf_ml) / density_g_ml


def volume_per_100g_flour(loaf_ml: Number, dough_g: Number, flour_share: Number) -> Number:
    """Return mL of loaf per 100 g of flour; ``flour_share`` is the flour's share of the dough
    (common practice).
    """
    return 100 * loaf_ml / (dough_g * flour_share)


def relative_uncertainty(*parts: float) -> float:
    """Return the relative standard uncertainty of a quotient or product from those of its parts.

    Source: GUM (JCGM 100:2008), 5.1.6: relative uncertainties add in quadrature.
    """
    return float(np.sqrt(np.sum(np.square(parts))))

"""What the measuring itself leaves unsure, from repeated readings of the same loaf, to set beside a
difference.
"""

from __future__ import annotations

import math
from dataclasses import asdict
from typing import Any

import numpy as np
import pandas as pd

from ...trials import Trial
from ...trials.columns import MEASURES
from ...trials.frozen import frozen
from ...trials.measuring.measures import relative_uncertainty

# Two single results differ by more than this many standard deviations once in twenty times: 1.96 ·
# √2. Source: ISO 5725-6:1994, 4.1.4 (repeatability limit; the standard rounds it to 2.8).
LIMIT_FACTOR = 1.959964 * math.sqrt(2)

# Measures that are proportional to the volume, and the other columns they are worked out from.
MASSES = ("loaf_g", "dough_g")


@frozen(kw_only=True)
class Repeatability:
    """How far readings of one loaf scatter: pooled standard deviation (mL), its df, and what it
    rests on.
    """

    sd: float
    df: int
    n_loaves: int
    n_readings: int


@frozen(kw_only=True)
class MeasuringError:
    """What measuring leaves unsure of one loaf, in the measure's unit.

    standard_uncertainty : of a typical loaf as it was measured; limit : two loaves that are alike
    measure further apart than this once in twenty times; readings_per_loaf : the usual number of
    readings (median).
    """

    measure: str
    standard_uncertainty: float
    limit: float
    readings_per_loaf: float
    repeatability: Repeatability

    def exceeds(self, difference: float) -> bool:
        """Return whether a difference is smaller than two equal loaves may differ by measuring
        alone.
        """
        return abs(difference) < self.limit

    def to_dict(self) -> dict[str, Any]:
        """Return plain data."""
        return asdict(self)


def repeatability(readings: pd.DataFrame) -> Repeatability | None:
    """Return the spread of readings (``loaf``, ``loaf_ml``) within loaves, pooled; None where no
    loaf has two.

    Source: GUM (JCGM 100:2008), H.3.6 and 4.2.4: a pooled estimate, squares weighted by their
    degrees of freedom.
    """
    known = readings.dropna(subset=["loaf", "loaf_ml"])
    volumes = known["loaf_ml"].groupby(known["loaf"])
    counts = volumes.count()
    repeated = counts[counts > 1]
    df = int((repeated - 1).sum())
    if df == 0:
        return None
    squares = float(((known["loaf_ml"] - volumes.transform("mean")) ** 2).sum())
    return Repeatability(
        sd=math.sqrt(squares / df), df=df, n_loaves=len(repeated), n_readings=int(repeated.sum())
    )


def measuring_error(trial: Trial, measure: str) -> MeasuringError | None:
    """Return the measuring error of one loaf, or None: no repeated readings, or a measure not made
    from volume.

    The uncertainty of the mean of r readings is sd / √r (GUM 4.2.3); masses add that of rounding to
    their last digit, step / √12 (GUM F.2.2.1); relative uncertainties add in quadrature (GUM
    5.1.6).
    """
    if (
        trial.readings is None
        or not (measure in MEASURES and MEASURES[measure].by_volume)
        or measure not in trial.counted
    ):
        return None
    spread = repeatability(trial.readings)
    loaves = trial.counted.dropna(subset=[measure])
    if spread is None or loaves.empty:
        return None
    per_loaf = trial.readings.dropna(subset=["loaf_ml"])["loaf"].value_counts()
    usual = float(loaves["loaf"].map(per_loaf).fillna(1).median())
    parts = [spread.sd / math.sqrt(usual) / float(loaves["loaf_ml"].mean())]
    parts += [
        rounding_step(loaves[mass]) / math.sqrt(12) / float(loaves[mass].mean())
        for mass in MEASURES[measure].made_from
        if mass in MASSES
    ]
    u = relative_uncertainty(*parts) * float(loaves[measure].mean())
    return MeasuringError(
        measure=measure,
        standard_uncertainty=u,
        limit=LIMIT_FACTOR * u,
        readings_per_loaf=usual,
        repeatability=spread,
    )


def rounding_step(values: pd.Series) -> float:
    """Return the step that recorded numbers were rounded to: 1, 0.1, 0.01 or 0.001, whichever all
    of them keep.
    """
    known = values.dropna().to_numpy(float)
    kept = [
        step
        for step in (1.0, 0.1, 0.01)
        if np.allclose(known / step, np.round(known / step), atol=1e-6)
    ]
    return kept[0] if kept else 0.001

"""A fit of single loaves that scatter around their mixes: how much better would it be with what was
set for two of them exchanged?
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..frozen import frozen
from .additive import LEAST_SCALE, SCATTER, basis, beside, indicators
from .grouping import joint_codes

PRIOR_LOAVES = 10  # how much loaves of one tin are taken to scatter as all do, in loaves
# least scatter of all beside that of loaves inside their mixes: mixes may be more alike than they
# are taken to be, and few loaves would then look surer than they are (by trial, no source)
LEAST_SHARE = 0.8


@frozen
class Inside:
    """A measure (n,) fitted by generalised least squares on what was set, in which loaves of one
    mix and mixes of one day go together.

    made : what each setting that varies inside mixes makes of each loaf (n,); left : what takes the
    settings out of values (n, n), in units of the scatter; free : its rank; within : how many
    differences between loaves of one mix are left; usual : their mean square.
    """

    values: NDArray
    made: dict[str, NDArray]
    left: NDArray
    free: int
    within: int
    usual: float

    @classmethod
    def of(
        cls,
        loaves: pd.DataFrame,
        settings: Sequence[str],
        values: NDArray,
        mix: NDArray,
        inside: Sequence[str],
    ) -> Inside:
        """Return the fit on `settings_of` the loaves; ``inside`` are those that vary inside
        mixes.
        """
        names = [*inside, *(name for name in settings if name not in inside)]
        parts = [indicators(joint_codes(loaves, [name])) for name in names]
        design = np.hstack([*parts, np.ones((len(loaves), 1))])
        of_mix = indicators(mix)
        whole = np.eye(len(values))
        alone = beside(basis(np.hstack([of_mix, *parts[: len(inside)]])), whole)
        tin = joint_codes(loaves, [name for name in ("tin",) if name in loaves])
        within = round(float(np.trace(alone)))
        usual = max(float(values @ alone @ values) / max(within, 1), LEAST_SCALE**2)
        scatter = scatter_of(tin, alone, values, usual)
        together = np.diag(scatter) + SCATTER * of_mix @ of_mix.T
        if "day" in loaves:
            day = indicators(joint_codes(loaves, ["day"]))
            together += SCATTER * day @ day.T
        whiten = np.linalg.inv(np.linalg.cholesky(together))
        effects = np.linalg.lstsq(whiten @ design, whiten @ values, rcond=None)[0]
        shares = np.split(effects, np.cumsum([part.shape[1] for part in parts]))
        made = {name: part @ own for name, part, own in zip(inside, parts, shares, strict=False)}
        fitted = basis(whiten @ design)
        left = whiten.T @ beside(fitted, whole) @ whiten
        return cls(values, made, left, len(values) - fitted.shape[1], within, usual)

    def gains(self, name: str, pairs: NDArray) -> tuple[NDArray, NDArray]:
        """Return the logarithms of the likelihood ratios of exchanging a setting, or all that
        mixes differ in ("mix"), of each pair (p, 2) of loaves, and of each loaf being off alone
        (n,).

        It moves the two values by d and -d: by the difference that the setting makes, or by that
        of the values themselves without what was set for each loaf. With P = ``left`` and residuals
        r = P y the sum of squares y' P y becomes y' P y + 2 d (r_i - r_j) + d² (P_ii + P_jj -
        2 P_ij).
        """
        one, other = pairs.T
        if name == "mix":
            bare = self.values - sum(self.made.values())
            by = bare[other] - bare[one]
        else:
            by = self.made[name][one] - self.made[name][other]
        rest, own = self.left @ self.values, np.diag(self.left)
        spread = own[one] + own[other] - 2 * self.left[one, other]
        squares = float(self.values @ rest)
        least = max(self.free * LEAST_SHARE * self.usual - squares, self.free * LEAST_SCALE**2)
        after = squares + 2 * by * (rest[one] - rest[other]) + by**2 * spread
        apart = squares - rest**2 / np.maximum(own, 1e-9)
        gains, alone = (
            np.log((squares + least) / (np.maximum(now, 0.0) + least)) for now in (after, apart)
        )
        return self.free / 2 * gains, self.free / 2 * alone


def scatter_of(tin: NDArray, alone: NDArray, values: NDArray, usual: float) -> NDArray:
    """Return the variance of loaves of each tin over the usual one (n,), by what is left (n, n) of
    values inside mixes: under a lid they scatter less.
    """
    squares, free = (alone @ values) ** 2, np.diag(alone)
    of_tin = PRIOR_LOAVES + np.bincount(tin, squares) / usual
    return np.asarray(of_tin / (PRIOR_LOAVES + np.bincount(tin, free)))[tin]

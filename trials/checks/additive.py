"""An additive fit of the loaves in which those of one mix, and mixes of one day, go together: how
far would a mix, a day or a change through a day have to be set apart?

Logarithms of a measure are fitted by generalised least squares on what was changed, named on the
card or not. A mix and a day are taken to scatter somewhat more than single loaves do, which the
mixes of the trial itself correct (a prior of ``PRIOR_MIXES`` mixes; common practice, no source):
few mixes say little of their own scatter, and loaves under a lid scatter less than the mixes they
come from. Masses, and volume beside height, scatter less from mix to mix.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..frozen import frozen
from ..trial import Trial
from .chance import t_tails
from .grouping import MOST_LEVELS, SETTINGS, batch_codes, joint_codes, varies
from .unnamed import unnamed_settings

MOST_LOAVES = 1000  # beyond, the sums take too long for a check
PRIOR_MIXES = 10
SCATTER, LESS_SCATTER = 1.25, 0.5  # variance of mixes, and of days, over that of single loaves
LEAST_WITHIN = 4  # free residuals of loaves inside their mixes
LEAST_SCALE = 0.004  # relative; scaling dough to 2 % is good work (common practice, no source)
LEAST_LEFT = 0.05  # share of a column that the settings must leave, to be told apart from them


def settings_of(loaves: pd.DataFrame, trial: Trial) -> list[str]:
    """Return the columns of what was changed: the card's factors, and what else varies in the
    table.
    """
    by_height = trial.card.proof_to == "height"
    names = [name for name in SETTINGS if not (name == "proof_min" and by_height)]
    unnamed = [name for name, _ in unnamed_settings(loaves, trial)]
    wanted = dict.fromkeys([*trial.factors, *names, *unnamed])
    return [name for name in wanted if name in loaves and varies(loaves[name])]


def settings_design(loaves: pd.DataFrame, settings: Sequence[str]) -> NDArray:
    """Return the design (n, p) of what was changed: a column a level, numbers of many levels as
    they are.
    """
    parts = [np.ones((len(loaves), 1))]
    for name in settings:
        column = loaves[name]
        if column.dtype.kind == "f" and column.nunique() > MOST_LEVELS:
            parts.append((column - column.mean()).fillna(0.0).to_numpy()[:, None])
        else:
            parts.append(indicators(joint_codes(loaves, [name])))
    return np.hstack(parts)


def indicators(codes: NDArray) -> NDArray:
    """Return one column (n,) a code, 1 where a row has it."""
    return np.eye(int(codes.max(initial=-1)) + 1)[codes]


def basis(columns: NDArray) -> NDArray:
    """Return an orthonormal basis (n, rank) of columns."""
    left, sizes, _ = np.linalg.svd(columns, full_matrices=False)
    return left[:, sizes > 1e-9 * max(sizes.max(initial=0.0), 1.0)]


def beside(known: NDArray, columns: NDArray) -> NDArray:
    """Return what an orthonormal basis (n, r) leaves of columns (n, k)."""
    return np.asarray(columns - known @ (known.T @ columns))


@frozen
class Added:
    """What columns (n, k) added to a fit would be: estimates, sums of squares, p-values (k,)."""

    estimates: NDArray
    squares: NDArray
    p_values: NDArray


@frozen
class Additive:
    """A fit to which columns can be added, one at a time.

    ``whiten`` (n, n) makes loaves independent; ``settings`` and ``mixes`` are orthonormal bases of
    what was changed and of what the mixes add to it.
    """

    whiten: NDArray
    settings: NDArray
    mixes: NDArray

    @classmethod
    def of(
        cls, loaves: pd.DataFrame, settings: Sequence[str], scatter: float = SCATTER
    ) -> Additive:
        """Return the fit of these loaves on `settings_of` them; ``scatter`` is the variance of
        mixes, and of days, over that of single loaves.
        """
        mix = indicators(batch_codes(loaves))
        day = indicators(joint_codes(loaves, ["day"])) if "day" in loaves else mix[:, :0]
        together = np.eye(len(loaves)) + scatter * (mix @ mix.T + day @ day.T)
        whiten = np.linalg.inv(np.linalg.cholesky(together))
        known = basis(whiten @ settings_design(loaves, settings))
        return cls(whiten, known, basis(beside(known, whiten @ mix)))

    def knowing(self, columns: NDArray) -> Additive:
        """Return the fit with columns (n, k) taken as known beside the settings."""
        settings = np.hstack([self.settings, basis(self.left(columns))])
        return Additive(self.whiten, settings, basis(beside(settings, self.mixes)))

    @property
    def free_mixes(self) -> int:
        """How many differences between mixes the settings leave."""
        return self.mixes.shape[1]

    @property
    def free_loaves(self) -> int:
        """How many differences between loaves of one mix are left."""
        return len(self.whiten) - self.settings.shape[1] - self.free_mixes

    def left(self, columns: NDArray) -> NDArray:
        """Return what the settings leave of columns (n, k), made independent."""
        return beside(self.settings, self.whiten @ columns)

    def added(self, values: NDArray, columns: NDArray) -> Added:
        """Return what each column (n, k) would add to the fit of ``values`` (n,).

        A column that sets mixes apart is held against the scatter of the other mixes, one that
        runs through mixes against that of loaves too, each by the share of the column that it is;
        the degrees of freedom are then Satterthwaite's (Biometrics Bulletin 2 (1946), 110-114).
        """
        rest, left = self.left(values[:, None])[:, 0], self.left(columns)
        lengths = (left**2).sum(axis=0)
        apart = lengths > LEAST_LEFT * ((self.whiten @ columns) ** 2).sum(axis=0)
        left, lengths = left * apart, np.where(apart, lengths, 1.0)
        estimates = left.T @ rest / lengths
        squares = estimates**2 * lengths
        after = rest[:, None] - left * estimates
        mixes = ((self.mixes.T @ after) ** 2).sum(axis=0)
        share = ((self.mixes.T @ left) ** 2).sum(axis=0) / lengths
        among = share > 1 - 1e-6
        within = np.maximum((after**2).sum(axis=0) - mixes, 0.0) / (self.free_loaves - ~among)
        within = np.maximum(within, LEAST_SCALE**2)
        of_mixes = PRIOR_MIXES + self.free_mixes - among
        between = (PRIOR_MIXES * within + mixes) / of_mixes
        share = np.where(among, 1.0, share)
        parts = share * between, (1 - share) * within
        scale = parts[0] + parts[1]
        of_loaves = np.maximum(self.free_loaves - ~among, 1)
        free = scale**2 / (parts[0] ** 2 / of_mixes + parts[1] ** 2 / of_loaves)
        free = np.floor(free + 1e-9).astype(int)
        p_values = t_tails(free, np.sqrt(squares / scale))
        return Added(estimates, squares, np.where(apart, p_values, 1.0))


def told_apart(fit: Additive) -> bool:
    """Return whether a fit leaves enough to hold a mix or a day against."""
    return fit.free_mixes >= 1 and fit.free_loaves >= LEAST_WITHIN


def groups_in(loaves: pd.DataFrame, name: str) -> Sequence[NDArray]:
    """Return which rows (n,) each mix or day has, where there are two or more of them; a loaf
    without a name for its own is in none.
    """
    codes = batch_codes(loaves) if name == "mix" else joint_codes(loaves, [name])
    named = loaves[name].notna().to_numpy() if name in loaves else np.ones(len(loaves), dtype=bool)
    groups = [codes == code for code in np.unique(codes[named])]
    return groups if len(groups) > 1 else []

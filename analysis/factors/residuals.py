"""Did the model hold? The residuals of loaves and of mixes, one strange loaf or mix, and the scale
of the measure.

Sources: largest standardised residual, Cook and Weisberg 1982 (Residuals and Influence in
Regression, section 2.2.2, Bonferroni's bound); powers of the response, Box and Cox 1964 (J. R.
Statist. Soc. B 26, 211-252); spread and mean, Breusch and Pagan 1979 in Koenker's form 1981 (J.
Econometrics 17, 107-112).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Literal

import numpy as np
import pandas as pd
from scipy.special import chdtrc, chdtri, ndtri, stdtr

from ...trials.frozen import frozen
from ..methods.root import lowest, root
from ..methods.ties import largest, rounded
from ..mixed_model.by_setting import BySetting
from ..mixed_model.fitting import NotIdentifiable, NoVariation
from ..model.bearing import error_df
from ..model.coding import DesignError
from ..model.trial_fit import TrialFit
from ..model.unit_means import Averaging, LeastSquares

LEVEL = 0.05  # of the outlier tests and of the power's interval
LEAST_SCALE_DF = 5  # below this no scale is suggested
POWERS = (-3.0, 5.0)  # looked at
ROUNDING = 1e-12  # of the largest: values that are no further apart are one


@frozen(kw_only=True)
class Strange:
    """A unit that lies farthest off. `p_value` allows for its being the largest of `n`; `strange`
    at 5 %.
    """

    unit: Literal["loaf", "mix", "day"]
    label: str
    line: int | None
    residual: float
    standardised: float
    n: int
    p_value: float
    strange: bool


@frozen(kw_only=True)
class Scale:
    """Which power of the measure makes the scatter even: 1 leaves it as it is, 0 is the logarithm
    (Box and Cox).

    suggestion : "as it is", "log", or "unknown" (a value at or below zero, or too little to judge
        by).
    """

    power: float
    ci_low: float
    ci_high: float
    suggestion: Literal["as it is", "log", "unknown"]


UNKNOWN = Scale(power=np.nan, ci_low=np.nan, ci_high=np.nan, suggestion="unknown")


@frozen(kw_only=True)
class ResidualChecks:
    """Checks of one fitted measure.

    loaves : one row a loaf: line, loaf, mix, fitted, residual, standardised, normal_quantile
    mixes : one row a mix: mix, fitted, residual, standardised, normal_quantile; empty where mixes
        are single loaves
    strange : the farthest loaf and the farthest mix; every one of those that tie
    spread_p_value : small where the scatter of the loaves changes with their fitted value
    scale : a log or no transformation. Both without loaves that are strange.
    """

    loaves: pd.DataFrame
    mixes: pd.DataFrame
    strange: tuple[Strange, ...]
    spread_p_value: float
    scale: Scale


def check_residuals(
    fit: TrialFit, loaves: pd.DataFrame, *, capped: bool = False
) -> ResidualChecks | None:
    """Check a fitted measure; None where groupings cross, so that no loaf has a residual inside one
    mix.

    loaves : the trial's, with `loaf`, `line`, `mix` where recorded, and the measure.
    capped : loaves held in by a lid are among them, whose even size says nothing of the measure's
        scale.
    """
    if fit.residuals().empty:
        return None
    spare = _spare(fit)
    by_loaf = _by_loaf(fit, loaves)
    by_mix = _by_mix(fit, loaves) if "mix" in spare else pd.DataFrame()
    strange = strangest("loaf", by_loaf, spare["loaf"])
    strange += strangest("mix", by_mix, spare["mix"]) if len(by_mix) else []
    sound = _without(fit, loaves, by_loaf, strange)
    return ResidualChecks(
        loaves=by_loaf.reset_index(drop=True),
        mixes=by_mix.reset_index(drop=True),
        strange=tuple(strange),
        spread_p_value=np.nan if capped or sound is None else _spread(sound),
        scale=UNKNOWN if capped or sound is None else _scale(sound),
    )


def _without(
    fit: TrialFit, loaves: pd.DataFrame, by_loaf: pd.DataFrame, strange: Sequence[Strange]
) -> TrialFit | None:
    """The fit by which spread and scale are judged: without loaves that lie strangely far off.

    One such loaf alone makes the scatter look uneven. None where the others cannot be fitted by
    themselves.
    """
    lines = [found.line for found in strange if found.unit == "loaf" and found.strange]
    far = by_loaf.index[by_loaf["line"].isin(lines)]
    if far.empty:
        return fit
    try:
        again = fit.again(
            loaves.loc[by_loaf.index].drop(index=far), fit.design.terms, fit.model.numbers or {}
        )
        return None if again.residuals().empty else again
    except (DesignError, NoVariation, NotIdentifiable):
        return None


def _spread(fit: TrialFit) -> float:
    table = fit.residuals()
    return spread_p_value(
        table["fitted"].to_numpy(), table["residual"].to_numpy(), _spare(fit)["loaf"]
    )


def _scale(fit: TrialFit) -> Scale:
    return suggest_scale(fit.response, _matrix(fit), fit.layout.codes["mix"])


def _matrix(fit: TrialFit) -> BySetting:
    """The design with every block."""
    return fit.model.arranged(fit.layout.blocks).design.matrix


def _spare(fit: TrialFit) -> dict[str, int]:
    """Degrees of freedom left at each level."""
    return error_df(_matrix(fit), fit.layout.labels)


def outlier_p_value(standardised: float, n: int, df: int) -> float:
    """Return the chance that the largest of n standardised residuals (on df) would be as large as
    this.

    r is internally studentised; t = r √((df − 1)/(df − r²)) has a t distribution on df − 1, and the
    bound for the largest of n is n times the two-sided chance (Cook and Weisberg 1982, section
    2.2.2). NaN below 2 df.
    """
    if df < 2:
        return np.nan
    if standardised**2 >= df:
        return 0.0
    t = abs(standardised) * np.sqrt((df - 1) / (df - standardised**2))
    return float(min(1.0, 2 * n * stdtr(df - 1, -t)))


def strangest(unit: Literal["loaf", "mix"], table: pd.DataFrame, df: int) -> list[Strange]:
    """Return the row with the largest standardised residual, and all that tie with it, in the
    table's order.

    None where nothing is left to judge it by. In a balanced trial two mixes often tie, as their
    residuals add up to zero.
    """
    if df < 2:
        return []
    return [
        _strange(unit, table.iloc[i], len(table), df) for i in largest(table["standardised"].abs())
    ]


def _strange(unit: Literal["loaf", "mix"], row: pd.Series, n: int, df: int) -> Strange:
    p_value = outlier_p_value(float(row["standardised"]), n, df)
    line = row.get("line")
    return Strange(
        unit=unit,
        label=str(row[unit]),
        line=None if pd.isna(line) else int(line),
        residual=float(row["residual"]),
        standardised=float(row["standardised"]),
        n=n,
        p_value=p_value,
        strange=p_value < LEVEL,
    )


def spread_p_value(fitted: np.ndarray, residual: np.ndarray, df: int) -> float:
    """Return the p-value of a scatter that changes with the fitted value: df · R² of the squared
    residuals on it.

    Breusch and Pagan 1979 in Koenker's form 1981, chi-square on 1 df, with the residual df in place
    of n: two loaves of one mix have the same squared residual. NaN where nothing varies.
    """
    squared = residual**2
    if any(np.ptp(values) <= ROUNDING * np.abs(values).max() for values in (fitted, squared)):
        return np.nan
    r = np.corrcoef(fitted, squared)[0, 1]
    return float(chdtrc(1, df * r**2))


def suggest_scale(response: np.ndarray, design: BySetting, mixes: np.ndarray) -> Scale:
    """Return which power of the response makes the scatter of loaves even (Box and Cox 1964).

    Compared inside mixes, so that their own differences do not weigh in. The likelihood counts the
    residual df in place of the loaves, as in Box and Cox's own Bayesian form. Suggests the
    logarithm where the interval of the power leaves out 1 and the best power is nearer to 0.
    """
    inside, df = _projector(design, mixes)
    if df < LEAST_SCALE_DF or response.min() <= 0 or np.ptp(response) == 0:
        return UNKNOWN
    logs = np.log(response) - np.log(response).mean()
    if not inside(logs) > 0:
        return UNKNOWN

    def fall(power: float) -> float:
        """Minus the profile log-likelihood of the power."""
        powered = logs if abs(power) < 1e-8 else np.expm1(power * logs) / power
        return df / 2 * float(np.log(inside(powered)))

    # at its lowest a curve is flat: the last bits of a sum decide on the fifth decimal
    best = round(lowest(fall, *POWERS), 4)
    limit = fall(best) + float(chdtri(1, LEVEL)) / 2
    ends = [
        (end if fall(end) <= limit else root(lambda x: fall(x) - limit, *sorted((end, best))))
        for end in POWERS
    ]
    log = (ends[0] > 1 or ends[1] < 1) and best < 0.5
    return Scale(
        power=best, ci_low=ends[0], ci_high=ends[1], suggestion="log" if log else "as it is"
    )


def _projector(design: BySetting, mixes: np.ndarray) -> tuple[Callable[[np.ndarray], float], int]:
    """The residual sum of squares of a response inside mixes and beside the design, and its df."""
    groups = Averaging(mixes)
    if groups.n_groups == len(mixes):
        groups = Averaging(np.zeros(len(mixes), dtype=int))
    inside = LeastSquares.of(groups.inside(design))

    def rest(response: np.ndarray) -> float:
        return float(np.sum(inside.project(groups.centre(response[:, None]))[1] ** 2))

    return rest, len(mixes) - groups.n_groups - inside.rank


def _by_loaf(fit: TrialFit, loaves: pd.DataFrame) -> pd.DataFrame:
    """The residuals of loaves, with what names them, and their normal quantiles."""
    table = fit.residuals()[["fitted", "residual", "standardised"]]
    names = pd.DataFrame({"line": loaves.get("line"), "mix": loaves.get("mix")}, index=loaves.index)
    names["loaf"] = loaves["loaf"] if "loaf" in loaves else names["line"]
    return _with_quantiles(names.loc[table.index].join(table))


def _by_mix(fit: TrialFit, loaves: pd.DataFrame) -> pd.DataFrame:
    """The residuals of mixes, each with its name as recorded."""
    table = fit.unit_residuals("mix")
    first = loaves.loc[fit.layout.labels.drop_duplicates("mix").index]
    names = first["mix"].astype(str)
    if "day" in first and names.duplicated().any():
        names = names + " of " + first["day"].astype(str)
    by_label = dict(zip(fit.layout.labels.loc[first.index, "mix"], names, strict=True))
    return _with_quantiles(table.assign(mix=[by_label[label] for label in table.index]))


def _with_quantiles(table: pd.DataFrame) -> pd.DataFrame:
    """Add the normal quantiles (i − ½)/n of the standardised residuals."""
    n = int(table["standardised"].notna().sum())
    rank = rounded(table["standardised"]).rank()
    return table.assign(normal_quantile=ndtri((rank - 0.5) / max(n, 1)))

"""The answer in the usual tables when no combination was baked twice: Lenth's margin for a standard
error.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from ..asking.question import Asked
from ..methods.ties import rounded
from ..model.term_analysis import NotSeparable
from .effect_sizes import CONTRASTS, EFFECTS, MEANS, level_of
from .sources import SOURCES, with_shares
from .unreplicated import Unreplicated


def single_run_tables(asked: Asked, single: Unreplicated) -> dict[str, Any]:
    """Return tests (without F), means, contrasts, variances, effects, interactions and what is not
    separable.

    The term that names an effect is its lowest-order alias; a main effect that is another's alias
    is not separable.
    """
    found = single.effects.assign(order=single.effects["term"].str.count(" × "))
    found = found.sort_values("order", kind="stable")
    mains = found[found["order"] == 0]
    return {
        "tests": _tests(found, single),
        "means": _means(asked, single),
        "contrasts": _contrasts(mains, single),
        "variances": _variances(found),
        "effects": _effects(mains, single),
        "interactions": (
            pd.DataFrame(
                {
                    "term": found["term"],
                    "p_value": found["p_value"],
                    "p_holm": np.nan,
                    "there": found["beyond"].isin(["margin", "simultaneous"]),
                }
            )[found["order"] > 0].reset_index(drop=True)
        ),
        "not_separable": tuple(
            NotSeparable(term=alias.removeprefix("−"), tied_to=(term,), kind="all")
            for term, aliases in zip(mains["term"], mains["aliases"], strict=True)
            for alias in aliases
            if " × " not in alias
        ),
    }


def _tests(found: pd.DataFrame, single: Unreplicated) -> pd.DataFrame:
    unjudged = found["beyond"] == "unjudged"
    return pd.DataFrame(
        {
            "term": found["term"],
            "num_df": 1,
            "den_df": single.limits.df,
            "f_value": np.nan,
            "p_value": found["p_value"],
            "p_holm": np.nan,
            "applied_to": found["unit"],
            "way": np.where(unjudged, "none", "lenth"),
            "why": np.where(unjudged, "tied", "one loaf a combination"),
            "n_units": np.nan,
        }
    ).reset_index(drop=True)


def _means(asked: Asked, single: Unreplicated) -> pd.DataFrame:
    """Plain means of every level, and of the combinations of two factors that work together beyond
    the margin.
    """
    beyond = single.effects.loc[single.effects["beyond"].isin(["margin", "simultaneous"]), "term"]
    terms = [*asked.factors, *(term for term in beyond if term.count(" × ") == 1)]
    rows = [
        {"term": term, "level": level_of(levels), "levels": levels, "mean": float(values.mean())}
        for term in terms
        for levels, values in asked.table.groupby(term.split(" × "), observed=True)[asked.measure]
    ]
    return pd.DataFrame(rows).reindex(columns=MEANS)


def _ends(mains: pd.DataFrame, single: Unreplicated) -> pd.DataFrame:
    """Each main effect between its two levels: first is the high one."""
    return pd.DataFrame(
        {
            "first": [single.high[name] for name in mains["term"]],
            "second": [single.low[name] for name in mains["term"]],
        },
        index=mains.index,
    )


def _contrasts(mains: pd.DataFrame, single: Unreplicated) -> pd.DataFrame:
    table = pd.concat([mains[["term", "p_value"]], _ends(mains, single)], axis=1).assign(
        difference=mains["effect"], adjustment="Lenth", **_interval(mains, mains["effect"], single)
    )
    return table[CONTRASTS].reset_index(drop=True)


def _effects(mains: pd.DataFrame, single: Unreplicated) -> pd.DataFrame:
    ends, rises = _ends(mains, single), mains["effect"] >= 0
    table = pd.DataFrame(
        {
            "factor": mains["term"],
            "low_level": ends["second"].where(rises, ends["first"]),
            "high_level": ends["first"].where(rises, ends["second"]),
            "size": mains["absolute"],
            "p_value": mains["p_value"],
            "adjustment": "Lenth",
            **_interval(mains, mains["absolute"], single),
        }
    )
    return table[EFFECTS].sort_values(
        "size", ascending=False, kind="stable", key=rounded, ignore_index=True
    )


def _interval(mains: pd.DataFrame, middle: pd.Series, single: Unreplicated) -> dict[str, Any]:
    """Lenth's pseudo standard error and margin around each effect; NaN for those that cannot be
    judged.
    """
    judged = mains["beyond"] != "unjudged"
    margin = pd.Series(single.limits.margin, index=mains.index).where(judged)
    return {
        "standard_error": pd.Series(single.limits.pse, index=mains.index).where(judged),
        "df": single.limits.df,
        "ci_low": middle - margin,
        "ci_high": middle + margin,
    }


def _variances(found: pd.DataFrame) -> pd.DataFrame:
    """Each effect's share of all the variation; what is noise cannot be told from what is not."""
    return with_shares(
        pd.DataFrame(
            {"source": found["term"], "kind": "factor", "variance": found["effect"] ** 2 / 4},
            columns=SOURCES[:3],
        ).reset_index(drop=True)
    )

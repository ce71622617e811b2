"""Planned, saved, filled with simulated measurements and loaded: the analysis holds what the plan
promised.

Every public kitchen: intervals of every factor's hardest pair cover the truth in 93.5 to 96.5 of
100 trials (of that pair alone, also where it will be adjusted for others), and a difference of the
smallest size that was promised is shown in 80 of 100, within four standard errors of the
simulation.
"""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from fairloaf.analysis import plan_power
from fairloaf.analysis.methods.power import own_critical
from fairloaf.analysis.model.judging import Fitted
from fairloaf.analysis.planning.planned_model import PlannedModel, simulated_errors
from fairloaf.analysis.planning.variation import assumption_for
from fairloaf.analysis.planning.what_it_shows import _criticals
from fairloaf.trials import load_trial, plan_trial

TRIALS = 2000
KITCHENS = json.loads(
    (Path(__file__).parents[1] / "reference" / "kitchens_public.json").read_text("utf-8")
)


@pytest.mark.benchmark
@pytest.mark.parametrize("kitchen", KITCHENS, ids=lambda entry: entry["name"])
def test_what_was_promised_holds_in_the_loaded_trial(tmp_path, kitchen):
    (tmp_path / "trial.toml").write_text(kitchen["card"], "utf-8")
    plan = plan_trial(tmp_path, seed=1)
    plan.save(tmp_path)
    table = pd.read_csv(tmp_path / "loaves.csv", dtype=str)
    noise = np.random.default_rng(5).normal(0, 30, len(table))
    table["loaf_g"], table["loaf_ml"] = 400, np.round(1600 + noise, 1)
    table.to_csv(tmp_path / "loaves.csv", index=False)
    loaves = load_trial(tmp_path).loaves
    loaves = loaves.assign(
        **{name: loaves[name].astype(plan.loaves[name].dtype) for name in plan.factors}
    )
    model = PlannedModel(loaves, plan.factors, plan.card.control)
    assumed = assumption_for(plan.card, None, None, "specific_volume")
    errors = simulated_errors(model.model.layout.labels, assumed.variances, TRIALS, seed=2)
    rows = plan_power(plan, trials=0).factors.set_index("factor")
    for factor in plan.factors:
        if rows.loc[factor, "judged"] == "Lenth":
            continue
        found = model.hardest(factor, assumed.variances)
        seen = Fitted(found.arrangement, errors).contrast(found.L)
        alone = np.array([own_critical(df) for df in seen.df]) * seen.standard_error
        covered = float((np.abs(seen.estimate) <= alone).mean())
        limit = _criticals(found, seen.df, 0.95) * seen.standard_error
        power = float(
            (np.abs(seen.estimate + rows.loc[factor, "smallest_difference"]) > limit).mean()
        )
        print(f"{kitchen['name']:24} {factor:10} covered {100 * covered:.1f}  power {power:.3f}")
        assert 0.935 <= covered <= 0.965
        assert power == pytest.approx(0.80, abs=4 * math.sqrt(0.16 / TRIALS))

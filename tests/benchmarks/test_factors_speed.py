"""How fast the factors are answered, as ratios in one run on one machine: `pytest -m benchmark -s`
on this file.

R with lme4, lmerTest, pbkrtest and emmeans is the measure where Rscript is there. It is given the
same model and the main part of the answer: F tests with Kenward–Roger df, marginal means and their
pairs of every factor. Ours gives the curve, the shares of the scatter, the residual checks and the
layout besides.
"""

import shutil
import subprocess
import time
import tracemalloc
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from fairloaf.analysis.answers import factor_effects
from fairloaf.trials import Trial, TrialCard, load_trial

pytestmark = pytest.mark.benchmark
EXAMPLE = Path(__file__).parents[2] / "example_trials" / "small_bakery"

SCRIPT = """
suppressMessages({library(lme4); library(lmerTest); library(emmeans)})
options(contrasts = c("contr.sum", "contr.poly"))
emm_options(lmer.df = "kenward-roger", msg.interaction = FALSE)
d <- read.csv("d.csv")
d$proof_min <- factor(d$proof_min)
answer <- function() {
  m <- lmer(bake_loss_pct ~ day + (formula + tin + proof_min)^2 + (1 | mix), d)
  tests <- anova(m, type = 3, ddf = "Kenward-Roger")
  means <- lapply(c("formula", "tin", "proof_min"), function(f) summary(pairs(emmeans(m, f)), infer = TRUE))
  tests
}
tests <- suppressMessages(answer())
taken <- replicate(5, system.time(suppressMessages(answer()))[["elapsed"]])
cat(median(taken), tests["formula", "F value"], tests["proof_min", "F value"])
"""  # noqa: E501


def seconds(job, repeats):
    """Median time of a job, after one run to warm up."""
    job()
    taken = []
    for _ in range(repeats):
        start = time.perf_counter()
        job()
        taken.append(time.perf_counter() - start)
    return float(np.median(taken))


@pytest.mark.skipif(shutil.which("Rscript") is None, reason="Rscript is not installed")
def test_the_48_loaf_example_against_r(tmp_path):
    trial = load_trial(EXAMPLE)
    trial.loaves.to_csv(tmp_path / "d.csv", index=False)
    (tmp_path / "answer.R").write_text(SCRIPT, "utf-8")
    ours = seconds(lambda: factor_effects(trial, "bake_loss_pct"), 5)
    told = subprocess.run(
        ["Rscript", "answer.R"], cwd=tmp_path, capture_output=True, text=True, check=True
    ).stdout
    theirs, formula_f, proof_f = map(float, told.split())
    tests = factor_effects(trial, "bake_loss_pct").tests.set_index("term")
    print(f"\n48 loaves: ours {ours:.3f} s, R {theirs:.3f} s, ratio R / ours {theirs / ours:.2f}")
    assert tests.loc["proof_min", "f_value"] == pytest.approx(proof_f, rel=1e-2)
    assert np.isfinite(formula_f)


def many_loaves(n, seed=1):
    """n loaves, eight a mix, four mixes a day: formula by mix, two tins and four proof times by
    loaf; invented.
    """
    rng = np.random.default_rng(seed)
    i = np.arange(n)
    mix = i // 8
    loaves = pd.DataFrame(
        {
            "line": i + 2,
            "loaf": i.astype(str),
            "mix": mix.astype(str),
            "day": (mix // 4).astype(str),
            "formula": np.where(mix % 2 == 0, "house", "malted"),
            "tin": np.where(i % 2 == 0, "low", "tall"),
            "proof_min": np.array([45.0, 55.0, 65.0, 75.0])[(i // 2) % 4],
            "y": 4 + rng.normal(0, 0.1, n) + rng.normal(0, 0.1, mix.max() + 1)[mix],
        }
    )
    return Trial(
        name="many",
        card=TrialCard(measure="y"),
        loaves=loaves,
        factors=("formula", "tin", "proof_min"),
    )


@pytest.mark.parametrize("n", [96, 10**3, 10**4, 10**5, 10**6])
def test_growth_with_the_number_of_loaves(n):
    trial = many_loaves(n)
    start = time.perf_counter()
    f = factor_effects(trial)
    taken = time.perf_counter() - start
    tracemalloc.start()
    factor_effects(trial)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    print(
        f"\n{n:>9,} loaves: {taken:8.2f} s, {peak / 1e6:9.1f} MB at most, {1e6 * taken / n:8.1f} µs"
        " a loaf"
    )
    assert f.tests["p_value"].notna().all()

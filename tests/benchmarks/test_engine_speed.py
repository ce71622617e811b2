"""How fast the mixed-model engine is, as ratios in one run on one machine: `pytest -m benchmark -s`
on this file.

R with lme4, lmerTest and pbkrtest is the measure where Rscript is there; those parts are skipped
where it is not. All data are drawn here and stand for no bakery. The run of a million loaves in R
takes minutes.
"""

import shutil
import subprocess
import time
import tracemalloc

import numpy as np
import pytest
from fairloaf.analysis.mixed_model.fitting import fit_reml, prepare

pytestmark = pytest.mark.benchmark
with_r = pytest.mark.skipif(shutil.which("Rscript") is None, reason="Rscript is not installed")


def nested_trial(mixes, loaves, days, seed=1):
    """Formula on mixes, tin on loaves, mixes in days, all variances 1: response, design, integer
    codes.
    """
    rng = np.random.default_rng(seed)
    mix = np.repeat(np.arange(mixes), loaves)
    day = mix * days // mixes
    formula, tin = np.where(mix % 2, 1.0, -1.0), np.tile([1.0, -1.0], len(mix) // 2)
    y = rng.normal(size=len(mix)) + rng.normal(size=mixes)[mix] + rng.normal(size=days)[day]
    return y, np.column_stack([np.ones(len(mix)), formula, tin]), {"day": day, "mix": mix}


def panel(assessors=40, loaves=50, seed=2):
    """Every assessor scores every loaf once, two formulas: response, design, codes."""
    rng = np.random.default_rng(seed)
    assessor, loaf = np.divmod(np.arange(assessors * loaves), loaves)
    y = (
        rng.normal(size=len(loaf))
        + rng.normal(size=assessors)[assessor]
        + 0.5 * rng.normal(size=loaves)[loaf]
    )
    return (
        y,
        np.column_stack([np.ones(len(loaf)), np.where(loaf % 2, 1.0, -1.0)]),
        {"assessor": assessor, "loaf": loaf},
    )


def answer(y, X, groups):
    """What a user waits for: the fit, and the Kenward–Roger test of the formula."""
    return fit_reml(y, X, groups).contrast(np.eye(X.shape[1])[1])


def times(job, repeats, clock):
    """Times of a job, after one run to warm up."""
    job()
    taken = []
    for _ in range(repeats):
        start = clock()
        job()
        taken.append(clock() - start)
    return taken


def seconds(job, repeats):
    """Median time of a job on the wall clock, as R's are taken."""
    return float(np.median(times(job, repeats, time.perf_counter)))


def processor_seconds(job, repeats):
    """Least processor time of a job, all threads together: little disturbed by what else the
    machine does.
    """
    return min(times(job, repeats, time.process_time))


def in_r(folder, trial, script):
    """Run R on a trial (as d); the script prints numbers, one a line."""
    y, X, groups = trial
    names = ["y", *(f"x{j}" for j in range(1, X.shape[1])), *groups]
    columns = np.column_stack([y, X[:, 1:], *groups.values()])
    np.savetxt(
        folder / "d.csv", columns, delimiter=",", header=",".join(names), comments="", fmt="%.17g"
    )
    head = "suppressMessages({library(lmerTest); library(pbkrtest)}); d <- read.csv('d.csv');"
    clock = "seconds <- function(f) system.time(f(), gcFirst = FALSE)[['elapsed']];"
    done = subprocess.run(
        ["Rscript", "-e", head + clock + script],
        cwd=folder,
        capture_output=True,
        text=True,
        check=True,
    )
    return [float(line) for line in done.stdout.split()]


@with_r
def test_one_small_trial_against_lmertest(tmp_path):
    trial = nested_trial(12, 4, 3)
    r_time, r_df = in_r(
        tmp_path,
        trial,
        """
        job <- function() summary(lmer(y ~ x1 + x2 + (1 | day) + (1 | mix), d), ddf = "Kenward-Roger")$coefficients
        cf <- job(); cat(median(replicate(15, seconds(job))), cf["x1", "df"], sep = "\\n")""",  # noqa: E501
    )
    ours = seconds(lambda: answer(*trial), 101)
    print(
        f"\n48 loaves, fit and Kenward-Roger: {1e3 * ours:.1f} ms, lmerTest {1e3 * r_time:.0f} ms: "
        f"{r_time / ours:.0f} times faster"
    )
    assert answer(*trial).df == pytest.approx(r_df, rel=1e-4)
    assert r_time / ours >= 40


@with_r
def test_crossed_panel_against_pbkrtest(tmp_path):
    trial = panel()
    r_time, r_df = in_r(
        tmp_path,
        trial,
        """
        job <- function() KRmodcomp(lmer(y ~ x1 + (1 | assessor) + (1 | loaf), d),
                                    lmer(y ~ 1 + (1 | assessor) + (1 | loaf), d))
        took <- seconds(function() k <<- job()); cat(took, k$test["Ftest", "ddf"], sep = "\\n")""",
    )
    ours = seconds(lambda: answer(*trial), 5)
    print(
        f"\n2,000 crossed rows, fit and Kenward-Roger: {ours:.3f} s, pbkrtest {r_time:.1f} s: "
        f"{r_time / ours:.0f} times faster"
    )
    assert answer(*trial).df == pytest.approx(r_df, rel=1e-4)
    assert r_time / ours >= 50


def test_a_million_loaves_in_a_second():
    trial = nested_trial(250_000, 4, 50_000)
    ours = processor_seconds(lambda: answer(*trial), 5)
    print(f"\n1,000,000 loaves of 250,000 mixes on 50,000 days: {ours:.2f} s")
    assert ours < 1


@with_r
def test_a_million_loaves_against_lmertest(tmp_path):
    trial = nested_trial(250_000, 4, 50_000)
    fit_time, test_time, r_t = in_r(
        tmp_path,
        trial,
        """
        fit <- seconds(function() m <<- lme4::lmer(y ~ x1 + x2 + (1 | day) + (1 | mix), d))
        test <- seconds(function() cf <<- summary(as_lmerModLmerTest(m))$coefficients)
        cat(fit, test, cf["x1", "t value"], sep = "\\n")""",
    )
    ours = seconds(lambda: answer(*trial), 3)
    print(
        f"\n1,000,000 loaves: {ours:.2f} s, lme4 {fit_time:.1f} s + lmerTest {test_time:.1f} s: "
        f"{(fit_time + test_time) / ours:.0f} times faster"
    )
    assert answer(*trial).t_value == pytest.approx(r_t, rel=1e-3)
    assert (fit_time + test_time) / ours >= 50


@pytest.mark.parametrize("lost", [0, 7])
def test_batched_fits(lost):
    _, X, groups = nested_trial(12, 4, 3)
    kept = np.sort(np.random.default_rng(3).permutation(48)[lost:])
    days = np.equal.outer(groups["day"], [1, 2]).astype(float)
    design, mix = np.column_stack([X, days])[kept], groups["mix"][kept]
    rng = np.random.default_rng(4)
    Y = (
        rng.normal(size=(len(kept), 2000))
        + rng.choice([0, 0.5, 1, 2], 2000) * rng.normal(size=(12, 2000))[mix]
    )
    L = np.eye(5)[1]
    many = processor_seconds(lambda: prepare(design, {"mix": mix}).fit_many(Y).contrast(L), 5)
    one = processor_seconds(lambda: answer(Y[:, 0], design, {"mix": mix}), 21)
    print(
        f"\n{len(kept)} loaves, 2,000 responses of one design: {2000 / many:.0f} fits a second, "
        f"{2000 * one / many:.0f} times faster than one by one"
    )
    assert 2000 / many >= 2000


def test_time_and_memory_grow_with_the_loaves():
    rows = []
    for n in (1_000, 10_000, 100_000, 1_000_000):
        trial = nested_trial(n // 4, 4, n // 20)
        taken = processor_seconds(lambda trial=trial: answer(*trial), 5)
        tracemalloc.start()
        answer(*trial)
        peak = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        rows.append((n, taken, peak))
        print(
            f"\n{n:>9,} loaves: {taken:.4f} s, {1e6 * taken / n:.2f} µs a loaf; {peak / n:.0f}"
            " bytes a loaf"
        )
    _, (_, time_4, memory_4), (_, time_5, memory_5), (_, time_6, memory_6) = rows
    assert time_5 / time_4 <= 10
    assert time_6 / time_5 <= 20  # room for data that outgrow the processor's cache
    assert memory_5 / memory_4 == pytest.approx(10, rel=0.1)
    assert memory_6 / memory_5 == pytest.approx(10, rel=0.1)

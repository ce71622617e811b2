"""In a notebook too an answer is worked out in one thread of arithmetic."""

from importlib import import_module

import pytest
from fairloaf.analysis import answers, report
from fairloaf.analysis.one_thread import THREADS, in_one_thread
from threadpoolctl import threadpool_info, threadpool_limits


class Asked(Exception):  # noqa: N818 - it stops the answer where it would be worked out
    pass


def _by_library() -> dict[str, int]:
    found = [each for each in threadpool_info() if each["user_api"] == "blas"]
    return {each["filepath"]: each["num_threads"] for each in found}


def _threads() -> set[int]:
    return set(_by_library().values())


@pytest.fixture(autouse=True)
def in_a_notebook(monkeypatch):
    monkeypatch.delenv(THREADS)
    with threadpool_limits(limits=2, user_api="blas"):
        before = _by_library()
        yield
        # as many as before, when all is done
        assert {name: _by_library()[name] for name in before} == before


def test_one_thread_while_an_answer_is_worked_out():
    assert in_one_thread(_threads)() <= {1}


def test_as_the_command_line_set_it(monkeypatch):
    monkeypatch.setenv(THREADS, "1")
    before = _by_library()
    assert in_one_thread(_by_library)() == before


@pytest.mark.parametrize(
    ("answer", "home"),
    [
        (answers.compare_formulas, "comparison.compare.compare"),
        (answers.factor_effects, "factors.analyse.analyse_factors"),
        (answers.measures_grid, "factors.measures_grid.grid_of_measures"),
        (answers.crumb_scores, "crumb.score.score_crumb"),
        (answers.plan_power, "planning.what_it_shows.what_it_shows"),
        (report.answered, "report.summary.summarise"),
    ],
)
def test_every_answer_that_fits_models(monkeypatch, answer, home):
    seen = []

    def stop(*args, **named):
        seen.append(_threads())
        raise Asked

    module, _, name = home.rpartition(".")
    module = import_module(f"fairloaf.analysis.{module}")
    monkeypatch.setattr(module, name, stop)
    monkeypatch.setattr(answers, "a_trial", lambda trial: trial)
    with pytest.raises(Asked):
        answer(None)
    assert seen
    assert set().union(*seen) <= {1}

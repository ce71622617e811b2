"""What holds for every test: the same numbers, pictures and examples wherever it is run.

The suite runs in as many processes as there are cores, file by file. So each process calculates in
one thread: with more they wait for each other, and the same fit takes twenty times as long. Set in
the environment, the number of threads is left as it is.
"""

import gc
import os
import shutil
from collections.abc import Iterator
from typing import Any

THREADS = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")
for variable in THREADS:
    os.environ.setdefault(variable, "1")  # before numpy is loaded, which reads it once
os.environ["MPLBACKEND"] = "agg"
OF_A_TERMINAL = ("COLUMNS", "LINES", "FORCE_COLOR", "NO_COLOR", "TTY_COMPATIBLE")

import matplotlib  # noqa: E402
import pytest  # noqa: E402
from hypothesis import HealthCheck, settings  # noqa: E402
from xdist.scheduler import LoadFileScheduling  # noqa: E402

# The same examples in every run, whatever the hour, the folder and the speed of the machine.
# More of them, and others each time: pytest --hypothesis-profile long
settings.register_profile(
    "usual",
    max_examples=15,
    derandomize=True,
    database=None,
    deadline=None,
    print_blob=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture],
)
settings.register_profile(
    "long", settings.get_profile("usual"), max_examples=1000, derandomize=False
)
settings.load_profile("usual")


def pytest_xdist_auto_num_workers(config: pytest.Config) -> int | None:
    """Start no other process for a single file, nor where a benchmark's prints are wanted (-s)."""
    files = {argument.split("::")[0] for argument in config.args}
    single = len(files) == 1 and files.pop().endswith(".py")
    return 0 if single or config.option.capture == "no" else None


# Few and long tests that share nothing: dealt out one by one when the large files are done, so
# that all processes end together.
ONE_BY_ONE = {
    f"tests/test_{name}.py"
    for name in (
        "comparison_mess",
        "engine_agreement",
        "interrupted",
        "loads_little",
        "made_up",
        "newcomers",
        "no_traceback_of_many",
        "one_answer",
    )
}


# What these share is made once where they run in one process.
WITH = {"tests/test_tidy.py": "tests/test_reading.py"}


class ByFile(LoadFileScheduling):
    """A file's tests run in one process; so do all that read the reports, which are made once."""

    def _split_scope(self, nodeid: str) -> str:
        file = super()._split_scope(nodeid)
        if file in ONE_BY_ONE:
            return nodeid
        return "reports" if "/test_report_" in file else WITH.get(file, file)


def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> ByFile:
    """Deal the tests out by file."""
    return ByFile(config, log)


def pytest_collection_finish() -> None:
    """Look for rubbish among what tests make, and not again and again among what they loaded."""
    gc.collect()
    gc.freeze()


@pytest.fixture(autouse=True, scope="session")
def _as_delivered() -> Iterator[None]:
    """No settings file changes a picture, no variable of a terminal a printed line, and what a
    test draws is drawn in its own process, of which there are as many as cores.
    """
    matplotlib.rcdefaults()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("fairloaf.analysis.second_process.cores", lambda: 1)
        for variable in OF_A_TERMINAL:
            patch.delenv(variable, raising=False)
        yield


@pytest.fixture
def unprinted(monkeypatch: pytest.MonkeyPatch) -> None:
    """Draw pictures and print none: for tests that read the words of many pages."""
    monkeypatch.setattr("fairloaf.analysis.figures.style.to_svg", lambda figure, alt: "<svg></svg>")


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """Return Debian's chromium, started once; without it (or playwright) the test is skipped."""
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    if chromium is None:
        pytest.skip("no chromium here: apt-get install chromium")
    playwright = pytest.importorskip("playwright.sync_api", reason="pip install fairloaf[test]")
    with playwright.sync_playwright() as driver:
        running = driver.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        yield running
        running.close()

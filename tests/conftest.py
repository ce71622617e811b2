"""What holds for every test: the same numbers, pictures and examples wherever and however the suite is run.

The suite runs in as many processes as there are cores, file by file. So each process calculates in one thread: with
more they wait for each other, and the same fit takes twenty times as long. Set in the environment, the number of
threads is left as it is.
"""

import os

THREADS = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")
for variable in THREADS:
    os.environ.setdefault(variable, "1")        # before numpy is loaded, which reads it once
os.environ["MPLBACKEND"] = "agg"

import matplotlib  # noqa: E402
import pytest  # noqa: E402
from hypothesis import HealthCheck, settings  # noqa: E402

# The same examples in every run, whatever the hour, the folder and the speed of the machine. More of them, and others
# each time: pytest --hypothesis-profile long
settings.register_profile(
    "usual", max_examples=50, derandomize=True, database=None, deadline=None, print_blob=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture])
settings.register_profile("long", settings.get_profile("usual"), max_examples=1000, derandomize=False)
settings.load_profile("usual")


def pytest_xdist_auto_num_workers(config: pytest.Config) -> int | None:
    """Start no other process for a single file, nor where a benchmark's prints are wanted (-s)."""
    files = {argument.split("::")[0] for argument in config.args}
    single = len(files) == 1 and files.pop().endswith(".py")
    return 0 if single or config.option.capture == "no" else None


@pytest.fixture(autouse=True, scope="session")
def _matplotlib_as_delivered() -> None:
    """No settings file of the folder or the user changes a picture."""
    matplotlib.rcdefaults()

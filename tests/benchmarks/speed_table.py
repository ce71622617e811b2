"""How long the commands take, each beside a neighbour that is measured in the same run.

    python tests/benchmarks/speed_table.py                 prints the whole table (some minutes)
    python tests/benchmarks/speed_table.py --only check    only the lines with this word in them
    python tests/benchmarks/speed_table.py --keep          also adds it to speeds.csv, beside this

Every line is a whole command in a process of its own, run in turn with all the others, so that a
machine that slows down slows all of them. Modules are compiled once, by a first run that is not
counted, as after any installation. Seconds are medians: of the clock, and of the processor, which
others at work on the machine disturb less; ``clock_ratio`` and ``ratio`` (of the processor) are
theirs over those of the neighbour. ``bound`` is the ratio that is wanted: by the clock on a quiet
machine. ``kept`` is the ratio of the processor that was kept last.
"""

from __future__ import annotations

import argparse
import os
import platform
import shutil
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass, field
from datetime import date
from importlib.util import find_spec
from multiprocessing import get_context
from pathlib import Path
from statistics import median

import numpy as np
import pandas as pd

HERE = Path(__file__).parent
SMALL_BAKERY = HERE.parents[1] / "example_trials" / "small_bakery"
R_SCRIPT = HERE / "report_of_48_loaves.R"
KEPT = HERE / "speeds.csv"
PYTHON = [sys.executable, "-c"]
FAIRLOAF = [*PYTHON, "from fairloaf.analysis.cli import main; main()"]
READ_CSV = "import sys, pandas; pandas.read_csv(sys.argv[1])"
READ_TRIAL = "import sys; from fairloaf.trials import read_trial; read_trial(sys.argv[1])"
FRAME = (
    "import sys, pandas; print(pandas.read_csv(sys.argv[1]).memory_usage(deep=True).sum() / 1e6)"
)
SIZES = (10_000, 100_000, 1_000_000)
MANY_TRIALS, MANY_PAGES = 100, 20
RUNS, RUNS_OF_MANY = 9, 3  # medians of


@dataclass
class Work:
    """One line of the table, and what was measured of it: seconds of the clock and of the
    processor, the peak of memory in MB.
    """

    name: str
    command: list[str]
    neighbour: str = ""
    bound: float | None = None
    runs: int = RUNS
    taken: list[tuple[float, float, float]] = field(default_factory=list)

    def run(self) -> None:
        """Run the command once and note what it took; a warning or error of the records is fine, a
        fault of ours is not.
        """
        begun = time.perf_counter()
        with tempfile.TemporaryFile() as told:
            process = subprocess.Popen(self.command, stdout=subprocess.DEVNULL, stderr=told)
            _, status, used = os.wait4(process.pid, 0)
            process.returncode = os.waitstatus_to_exitcode(status)
            told.seek(0)
            said = told.read().decode()
            if process.returncode not in (0, 1) or "Traceback" in said:
                raise SystemExit(f"{self.name}: {said}")
        clock = time.perf_counter() - begun
        self.taken.append((clock, used.ru_utime + used.ru_stime, used.ru_maxrss / 1e3))

    def middle(self, which: int) -> float:
        """Return the median of one of the three; the first run warms up and is not counted."""
        return median(run[which] for run in self.taken[1:])


def works(folder: Path, largest: int, R: bool) -> list[Work]:
    """Return all lines of the table; the records that they need are made in ``folder``."""
    small, out = str(SMALL_BAKERY), ["--out", str(folder), "--quiet"]
    pandas = "import pandas"
    pictures = "import pandas, matplotlib, seaborn"
    lines = [
        Work(pandas, [*PYTHON, pandas]),
        Work(pictures, [*PYTHON, "import pandas, matplotlib.figure, seaborn"], pandas),
        Work("check", [*FAIRLOAF, "check", small], pandas, 1.5),
        Work("compare", [*FAIRLOAF, "compare", small], pandas, 2.2),
        Work("factors", [*FAIRLOAF, "factors", small], pandas, 2.2),
        Work(
            "compare on a score",
            [*FAIRLOAF, "compare", small, "--measure", "crumb_openness"],
            "compare",
            2,
        ),
        Work("crumb", [*FAIRLOAF, "crumb", small], "compare", 2),
        Work("class page", [*FAIRLOAF, "report", small, "--for", "class", *out], pictures, 1.6),
        Work("bakery page", [*FAIRLOAF, "report", small, *out], pictures, 1.6),
        Work("record page", [*FAIRLOAF, "report", small, "--for", "record", *out], pictures),
    ]
    if R:
        call = ["Rscript", str(R_SCRIPT), str(SMALL_BAKERY / "loaves.csv"), str(folder / "r.html")]
        lines += [
            Work("R's page of 48 loaves", call, pandas),
            Work("bakery page, again", lines[8].command, "R's page of 48 loaves", 0.6),
        ]
    for size in (size for size in SIZES if size <= largest):
        lines += works_of_many(folder / f"{size}", size)
    trials = [str(path) for path in many_trials(folder / "trials")]
    one = str(folder / "trials" / "0")
    lines += [
        Work("check of one trial", [*FAIRLOAF, "check", one], pandas, runs=RUNS_OF_MANY),
        Work(
            f"check of {MANY_TRIALS} trials",
            [*FAIRLOAF, "check", *trials],
            "check of one trial",
            runs=RUNS_OF_MANY,
        ),
        Work(
            f"class pages of {MANY_PAGES} trials",
            [*FAIRLOAF, "report", *trials[:MANY_PAGES], "--for", "class", *out],
            "class page",
            runs=RUNS_OF_MANY,
        ),
    ]
    return lines


def works_of_many(folder: Path, size: int) -> list[Work]:
    """Return the lines of a trial of many loaves."""
    folder.mkdir()
    path = folder / "loaves.csv"
    # in a process of its own: those measured are said to have taken what this one holds
    writer = get_context("spawn").Process(target=write_loaves, args=(path, size))
    writer.start()
    writer.join()
    name = f"{size:,} loaves"
    runs = RUNS if size < 1e5 else RUNS_OF_MANY
    read = f"read_trial, {name}"
    return [
        Work(f"read_csv, {name}", [*PYTHON, READ_CSV, str(path)], "import pandas", runs=runs),
        Work(read, [*PYTHON, READ_TRIAL, str(path)], f"read_csv, {name}", runs=runs),
        *(
            Work(f"{work}, {name}", [*FAIRLOAF, work, str(path)], read, 3, runs=runs)
            for work in ("check", "compare", "factors")
        ),
    ]


def write_loaves(path: Path, size: int) -> None:
    """Write an invented trial of so many loaves."""
    loaves_of(size).to_csv(path, index=False)


def loaves_of(size: int) -> pd.DataFrame:
    """Return an invented trial of sound loaves, six a mix, four mixes a day."""
    draw = np.random.default_rng(1)
    loaf = np.arange(size)
    mix, tall, proof = loaf // 6, loaf % 2, 15 * (loaf % 3) + 45
    malted = mix % 2
    day = mix // 4
    volume = (
        1600
        + draw.normal(0, 25, day[-1] + 1)[day]
        + draw.normal(0, 20, mix[-1] + 1)[mix]
        + draw.normal(0, 30, size)
        + 60 * malted
        + 40 * tall
        + 2 * (proof - 60)
    )
    return pd.DataFrame(
        {
            "loaf": [f"L{number:07d}" for number in loaf],
            "mix": [f"M{number:06d}" for number in mix],
            "day": [f"d{number:05d}" for number in day],
            "formula": np.where(malted, "malted", "house"),
            "tin": np.where(tall, "tall", "open"),
            "proof_min": proof,
            "dough_g": draw.normal(450, 2, size).round(1),
            "loaf_g": draw.normal(400, 3, size).round(1),
            "loaf_ml": volume.round().astype(int),
            "note": "",
        }
    )


def many_trials(folder: Path) -> list[Path]:
    """Return a hundred folders with the small bakery's trial, each with loaf weights of its own."""
    loaves = pd.read_csv(SMALL_BAKERY / "loaves.csv", dtype=str, keep_default_na=False)
    draw = np.random.default_rng(1)
    made = [folder / str(number) for number in range(MANY_TRIALS)]
    for path in made:
        shutil.copytree(SMALL_BAKERY, path)
        weighed = pd.to_numeric(loaves["loaf_g"]) + draw.integers(-2, 3, len(loaves))
        loaves.assign(loaf_g=weighed).to_csv(path / "loaves.csv", index=False)
    return made


def table(lines: list[Work]) -> pd.DataFrame:
    """Return the measured lines, each with its ratio to its neighbour."""
    measured = {work.name: work for work in lines}

    def ratio(work: Work, which: int) -> float | None:
        beside = measured.get(work.neighbour)
        return round(work.middle(which) / beside.middle(which), 2) if beside else None

    return pd.DataFrame(
        [
            {
                "work": work.name,
                "clock_s": round(work.middle(0), 3),
                "processor_s": round(work.middle(1), 3),
                "peak_mb": round(work.middle(2)),
                "neighbour": work.neighbour,
                "ratio": ratio(work, 1),
                "bound": work.bound,
                "clock_ratio": ratio(work, 0),
            }
            for work in lines
        ]
    )


def chosen(lines: list[Work], word: str) -> list[Work]:
    """Return the lines with a word in them, and the neighbours that they are held against."""
    wanted = {work.name for work in lines if word in work.name}
    wanted |= {work.neighbour for work in lines if work.name in wanted}
    return [work for work in lines if work.name in wanted]


def commit() -> str:
    """Return what is checked out, with a + where something was changed since."""
    run = ["git", "-C", str(HERE), "describe", "--always", "--dirty=+"]
    return subprocess.run(run, capture_output=True, text=True).stdout.strip() or "unknown"


def main() -> None:
    """Measure, print, and keep the table where that is asked for."""
    asked = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    asked.add_argument("--only", default="", help="only the lines with this word in them")
    asked.add_argument("--runs", type=int, help="runs of each line")
    asked.add_argument("--largest", type=int, default=SIZES[-1], help="loaves of the largest trial")
    asked.add_argument("--keep", action="store_true", help=f"add the table to {KEPT.name}")
    said = asked.parse_args()
    if find_spec("fairloaf") is None:
        raise SystemExit(f"fairloaf is not installed for {sys.executable}: pip install it there.")
    # compiled modules are kept, as after any installation
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        os.environ["PYTHONPYCACHEPREFIX"] = str(folder / "compiled")
        lines = chosen(works(folder, said.largest, bool(shutil.which("Rscript"))), said.only)
        most = 1 + max(said.runs or work.runs for work in lines)
        for turn in range(most):
            for work in lines:
                if turn <= (said.runs or work.runs):
                    work.run()
        frames = {
            path.parent.name: subprocess.run(
                [*PYTHON, FRAME, str(path)], capture_output=True, text=True, check=True
            ).stdout.strip()
            for path in sorted(folder.glob("*/loaves.csv"), key=lambda path: len(path.parent.name))
        }
    told = table(lines)
    kept = pd.read_csv(KEPT) if KEPT.exists() else pd.DataFrame({"work": [], "ratio": []})
    last = kept.drop_duplicates("work", keep="last").set_index("work")["ratio"]
    shown = told.assign(kept=told["work"].map(last))
    print(shown.to_string(index=False, na_rep="", max_colwidth=None))
    for size, megabytes in frames.items():
        print(f"{int(size):,} loaves are a frame of {float(megabytes):.1f} MB")
    if said.keep:
        now = told.assign(
            date=date.today().isoformat(),
            commit=commit(),
            machine=f"{platform.machine()}, {os.cpu_count()} cores",
        )
        pd.concat([kept, now] if len(kept) else [now]).to_csv(KEPT, index=False)


if __name__ == "__main__":
    main()

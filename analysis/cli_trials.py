"""One command for one trial or for many: what stops one of them is told, and the others go on."""

from __future__ import annotations

import errno
import sys
from collections.abc import Callable, Sequence
from functools import cache, partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from .cli_options import say, show

if TYPE_CHECKING:
    from ..trials import TrialError

STOPPED, OUR_FAULT = 1, 3  # 2 is a wrong call, by the library

Answered = tuple[int, dict[str, Any], Callable[[], None]]  # exit code, data, prints it for people
# takes the trial, and what prints the heading that stands above the first words for people
Answer = Callable[[Path, Callable[[], None]], Answered]


def answer_each(trials: Sequence[Path], answer: Answer, as_json: bool) -> int:
    """Print the answer for each trial in turn, and return the worst exit code.

    A single trial is answered as it is. Of several, each stands below its folder; as data they are
    a list. What stops one of them, or a fault of ours in it, takes its place.
    """
    if len(trials) == 1:
        code, data, tell = answer(trials[0], lambda: None)
        show(data, as_json) if as_json else tell()
        return code
    worst, told = 0, []
    for place, trial in enumerate(trials):
        heading = f"{trial}:" if place == 0 else f"\n{trial}:"
        head = cache(partial(say, heading))  # said once
        try:
            code, data, tell = answer(trial, head)
        except Exception as stopped:
            if not _of_this_trial(stopped):
                raise
            if not as_json:
                say(heading, err=True)
            code, data = tell_stopped(stopped, as_json)
        else:
            if not as_json:
                head()
                tell()
        told.append({"folder": str(trial), **data})
        worst = max(worst, code)
    if as_json:
        show(told, as_json)
    return worst


def _of_this_trial(stopped: Exception) -> bool:
    """Return whether the next trial may go on: not where nobody reads, the disk is full or the call
    was wrong.
    """
    import typer

    return not isinstance(stopped, BrokenPipeError | typer.BadParameter | typer.Exit) and not (
        isinstance(stopped, OSError) and stopped.errno == errno.ENOSPC
    )


def tell_stopped(stopped: Exception, as_json: bool) -> tuple[int, dict[str, Any]]:
    """Tell on the error channel what stopped a trial; return the exit code, and the same as data.

    As data, what a user's file does wrong is not told besides.
    """
    from ..trials import TrialError  # only now: ``--help`` must not wait for tables

    if isinstance(stopped, TrialError):
        if not as_json:
            tell_stop(stopped)
        return STOPPED, {"stopped": True, "findings": [f.to_dict() for f in stopped.findings]}
    if isinstance(stopped, OSError) and stopped.errno == errno.ENOSPC:
        say("The output could not be written: the disk is full.", err=True)
        return STOPPED, {}
    tell_fault(stopped)
    return OUR_FAULT, {"fault": f"{type(stopped).__name__}: {stopped}"}


def tell_fault(fault: Exception) -> None:
    """Say that the program is at fault, not the records, with what to send: where it happened, and
    no records.
    """
    import traceback
    from importlib.metadata import version

    steps = traceback.extract_tb(fault.__traceback__)[-4:]
    where = "; ".join(f"{Path(step.filename).name}:{step.lineno} {step.name}" for step in steps)
    say(
        "This is a fault of ours, not of your records; none of them was changed. Please send these"
        " two lines to whoever looks after fairloaf, with the command:\n  fairloaf"
        f" {version('fairloaf')}, Python {sys.version.split()[0]}: {type(fault).__name__}:"
        f" {fault}\n  {where}",
        err=True,
    )


def tell_stop(stopped: TrialError) -> None:
    """Print why the records stop the analysis to the error channel."""
    from .wording.findings import print_stop

    print_stop(stopped.findings)

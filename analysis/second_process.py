"""A second process that loads what is slow to load while this one works, and then does what it is
asked: on the command line, where a second core stands idle.

It ends with this one, whatever ends this one. Whatever it cannot do is done here.
"""

from __future__ import annotations

import gc
import os
import pickle
import subprocess
import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager, suppress
from functools import partial
from typing import Any, TypeVar

Found = TypeVar("Found")
# ask(function, *arguments) asks for function(*arguments), and returns what waits for it
Ask = Callable[..., Callable[[], Any]]


def here(function: Callable[..., Found], *arguments: Any) -> Callable[[], Found]:
    """Return what works out function(*arguments) in this process."""
    return partial(function, *arguments)


@contextmanager
def second_process(
    modules: Sequence[str],
    questions: int,
    meanwhile: Callable[[], object] = lambda: None,
    without: Sequence[str] = (),
) -> Iterator[Ask]:
    """Give what asks a second process, which has begun to load these modules of ours: functions
    and arguments that can be pickled. ``meanwhile`` is done here while an answer is waited for;
    ``without`` are modules that it never loads, which a library asks for and can do without.

    It ends after so many ``questions``, so that nobody waits for its end. Where the modules are
    loaded already, or no second core is there, it all happens ``here``.
    """
    started = (
        None
        if cores() < 2 or set(modules) <= set(sys.modules)
        else _started(modules, questions, without)
    )
    if started is None:
        yield here
        return

    def answer(question: bytes) -> Any:
        started.stdin.write(question)  # type: ignore[union-attr]
        started.stdin.flush()  # type: ignore[union-attr]
        return pickle.load(started.stdout)  # type: ignore[arg-type]

    def ask(function: Callable[..., Found], *arguments: Any) -> Callable[[], Found]:
        try:
            asked = courier.submit(answer, pickle.dumps((function, arguments)))
        except (pickle.PickleError, AttributeError, TypeError):  # cannot be sent
            return here(function, *arguments)

        def wait() -> Found:
            if not asked.done():
                meanwhile()
            try:
                found: Found = asked.result()
            except (OSError, EOFError, pickle.PickleError):  # ended
                return here(function, *arguments)()
            return found

        return wait

    courier = ThreadPoolExecutor(1)  # one question at a time, while this process goes on
    try:
        yield ask
    finally:
        started.terminate()
        courier.shutdown(cancel_futures=True)
        with suppress(OSError):
            started.communicate()


def cores() -> int:
    """Return how many cores this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _started(
    modules: Sequence[str], questions: int, without: Sequence[str]
) -> subprocess.Popen[bytes] | None:
    """Start it, with nothing of the user's folder on its path; None where that cannot be."""
    said = (str(questions), ",".join(modules), ",".join(without))
    command = [sys.executable, "-P", "-m", __name__, *said]
    pipe, nowhere = subprocess.PIPE, subprocess.DEVNULL
    try:
        return subprocess.Popen(command, stdin=pipe, stdout=pipe, stderr=nowhere)
    except OSError:
        return None


def _serve(questions: int, modules: Iterable[str], without: Iterable[str]) -> None:
    """Load the modules, then answer what is asked, until nobody asks any more."""
    import signal
    from importlib import import_module

    from ..trials.lazy_names import load_little

    signal.signal(signal.SIGTERM, lambda *_: sys.exit())  # files that a library made are removed
    asked, answers = sys.stdin.buffer, sys.stdout.buffer
    sys.stdout = sys.stderr
    gc.disable()  # what is loaded stays
    sys.modules.update(dict.fromkeys(without))  # type: ignore[arg-type]  # as if not installed
    load_little()
    for module in modules:
        import_module(module)
    gc.freeze()
    gc.enable()
    with suppress(EOFError):
        for _ in range(questions):
            function, arguments = pickle.load(asked)
            pickle.dump(function(*arguments), answers)
            answers.flush()


if __name__ == "__main__":
    _serve(int(sys.argv[1]), *(filter(None, names.split(",")) for names in sys.argv[2:]))

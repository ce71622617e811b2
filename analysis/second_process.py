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
    first: Callable[[], object] = gc.disable,
) -> Iterator[Ask]:
    """Give what asks a second process, which has begun to load these modules of ours: functions
    and arguments that can be pickled. ``meanwhile`` is done here while an answer is waited for;
    ``first`` is a function of a module, and done there before anything is loaded.

    It ends after so many ``questions``, so that nobody waits for its end. Where the modules are
    loaded already, or no second core is there, it all happens ``here``.
    """
    started = (
        None
        if cores() < 2 or set(modules) <= set(sys.modules)
        else _started(modules, questions, first)
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
    modules: Sequence[str], questions: int, first: Callable[[], object]
) -> subprocess.Popen[bytes] | None:
    """Start it, with nothing of the user's folder on its path; None where that cannot be."""
    said = (str(questions), first.__module__, first.__name__, *modules)
    command = [sys.executable, "-P", "-m", __name__, *said]
    pipe, nowhere = subprocess.PIPE, subprocess.DEVNULL
    try:
        return subprocess.Popen(command, stdin=pipe, stdout=pipe, stderr=nowhere)
    except OSError:
        return None


def _serve(questions: int, first: tuple[str, str], modules: Iterable[str]) -> None:
    """Do what is first, load the modules, then answer what is asked, until nobody asks any more."""
    import signal
    from importlib import import_module

    from ..trials.lazy_names import load_little

    signal.signal(signal.SIGTERM, lambda *_: sys.exit())  # files that a library made are removed
    asked, answers = sys.stdin.buffer, sys.stdout.buffer
    sys.stdout = sys.stderr
    gc.disable()  # what is loaded stays
    load_little()
    home, name = first
    getattr(import_module(home), name)()
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
    number, home, name, *modules = sys.argv[1:]
    _serve(int(number), (home, name), modules)

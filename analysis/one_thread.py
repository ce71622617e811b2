"""Arithmetic in one thread: what the command line sets for itself, in a notebook too.

A trial's matrices are small. Threads that wait for one another take two to three times as long over
them as one alone, and the last digits of a number would follow from how many processors there are.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from functools import wraps
from typing import ParamSpec, TypeVar

Asked = ParamSpec("Asked")
Answer = TypeVar("Answer")

# read by the libraries of arithmetic when they are loaded
THREADS = "OMP_NUM_THREADS"


def in_one_thread(answer: Callable[Asked, Answer]) -> Callable[Asked, Answer]:
    """Let an answer be worked out in one thread of arithmetic; afterwards there are as many as
    before.
    """

    @wraps(answer)
    def alone(*args: Asked.args, **named: Asked.kwargs) -> Answer:
        if os.environ.get(THREADS) == "1":
            return answer(*args, **named)
        from threadpoolctl import threadpool_limits

        with threadpool_limits(limits=1, user_api="blas"):
            return answer(*args, **named)

    return alone

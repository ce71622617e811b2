"""What a check of fairness is: a small function that says what speaks against comparing two
formulas.

To add one: write a generator over a ``Pair`` that yields a ``Spot`` for each thing found, give it
``@fair`` with a code that will never change, and put it into ``FAIRNESS`` in ``fairness``. An error
makes the comparison impossible; the rest stands beside the answer.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from ..checks.check import Spot, as_findings, first_paragraph
from ..columns import BY_NAME
from ..findings import Finding, Severity
from ..frozen import frozen
from .conditions import Pair

Find = Callable[[Pair], Iterator[Spot]]


@frozen(kw_only=True)
class FairCheck:
    """One check of a pair of formulas; ``title`` is the question that it asks."""

    code: str
    severity: Severity
    title: str
    why: str
    find: Find

    def run(self, pair: Pair) -> tuple[Finding, ...]:
        """Return what this check finds."""
        return as_findings(self, self.find(pair), pair.trial.files.get("loaves", ""))


def fair(
    code: str, severity: Severity, why: str, *, title: str = ""
) -> Callable[[Find], FairCheck]:
    """Turn a function that yields spots into a FairCheck; its docstring is the title where none is
    given.
    """

    def made(find: Find) -> FairCheck:
        asks = title or first_paragraph(find.__doc__ or "")
        return FairCheck(code=code, severity=severity, title=asks, why=why, find=find)

    return made


def words_for(name: str) -> str:
    """Return a condition's name inside a sentence."""
    return (BY_NAME[name].label if name in BY_NAME else name.replace("_", " ")).lower()

"""What is asked of a trial is asked of a trial, and not of a folder's name."""

from __future__ import annotations

from ...trials import Trial


def a_trial(given: object) -> Trial:
    """Return a trial; raise TypeError that says what is wanted where it is something else, such as
    a folder's name.
    """
    if not isinstance(given, Trial):
        name = repr(given) if isinstance(given, str) else "…"
        raise TypeError(
            f"A trial is wanted here, not a {type(given).__name__}: write  load_trial({name}) "
            " first (from fairloaf.trials import load_trial)."
        )
    return given

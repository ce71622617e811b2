"""What the factors' answer could not use or could not say, and whether the model held, for a
baker.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from ...trials.words.lists import capital, counted, listed
from ...trials.words.numbers import NumberStyle, number
from ..model.bearing import LEAST_ERROR_DF
from ..plain_data import records
from .layout import layout_sentences, tied_lines, tied_names, unit_words

if TYPE_CHECKING:
    from ..codes import Inseparable
    from ..factors.residuals import ResidualChecks
    from ..factors.result import FactorEffects
    from ..model.term_analysis import NotSeparable

TIED: dict[Inseparable, str] = {
    "all": "What {name} did cannot be told apart from {either}.",
    "part": "Some combinations of {parts} were never baked; {name} is judged by those that were.",
    "read as main": (
        "{name} cannot be told from {either}: what is there is read as {others}, on the"
        " understanding that there is nothing else."
    ),
    "lid": "{name} cannot be judged: every loaf that could tell fills a lidded tin.",
}
MORE_MIXES = "Bake each again from a second mix at least, and better from three."
TIED_TO_NOTHING = "What {name} did cannot be told from these loaves."
STRANGE_SPREAD = 0.01  # a scatter that changes with the mean is mentioned below this


def limit_sentences(f: FactorEffects, style: NumberStyle) -> tuple[str, ...]:
    """Return what was left out, what cannot be told apart, where the scatter is, and what looks
    strange.
    """
    return (
        *_one_mix(f),
        *layout_sentences(f.layout, f.factor_labels, style),
        *_not_separable(f),
        *_terms_left_out(f),
        *_no_judge(f),
        *_never_varied(f),
        *_loaves_left_out(f),
        *_scatter(f, style),
        *(
            residual_sentences(f.residual_checks, f.label_inside, style)
            if f.residual_checks
            else ()
        ),
    )


def why_not_judged(f: FactorEffects) -> tuple[str, ...]:
    """Return why nothing can be said of how sure the effects are; empty where nothing stands in
    their way.
    """
    wholly = [tie for tie in f.not_separable if tie.kind == "all"]
    tied = tied_lines(f.layout, f.factor_labels)
    return tuple(
        dict.fromkeys(
            (
                *_one_mix(f),
                *(tied or (_tie_sentence(f, tie) for tie in wholly)),
                *(why for why, _ in _too_few(f)),
            )
        )
    )


def next_of_what_cannot_be_judged(f: FactorEffects) -> tuple[str, ...]:
    """Return what to bake next where nothing can be said of how sure the effects are."""
    tied = tied_names(f.layout, f.factor_labels)
    wholly = [
        (_words(f, tie.term), _words(f, other))
        for tie in f.not_separable
        if tie.kind == "all" and " × " not in tie.term
        for other in tie.tied_to
        if " × " not in other
    ]
    mix = f"the {unit_words('mix')}"
    pairs = {frozenset(pair): pair for pair in (*wholly, *tied) if mix not in pair}
    apart = [
        f"Bake again so that {a} and {b} do not always change together." for a, b in pairs.values()
    ]
    one_mix = any(mix in pair for pair in tied) or f.n_mixes < 2
    more = [MORE_MIXES] if one_mix else [helps for _, helps in _too_few(f)]
    return tuple(dict.fromkeys((*apart, *more)))


def _one_mix(f: FactorEffects) -> tuple[str, ...]:
    """What loaves of a single dough cannot show."""
    if f.n_mixes > 1:
        return ()
    return (
        (
            f"All {f.n_loaves} loaves came from one mix: this is how that dough behaved, and"
            " nothing shows that another would do the same. Bake the same loaves from a second"
            " mix."
        ),
    )


def _words(f: FactorEffects, name: str) -> str:
    parts = [f.factor_labels.get(part, part) for part in name.removeprefix("−").split(" × ")]
    return f"{listed(parts)} together" if len(parts) > 1 else parts[0]


def _not_separable(f: FactorEffects) -> tuple[str, ...]:
    return tuple(_tie_sentence(f, tie) for tie in f.not_separable)


def _tie_sentence(f: FactorEffects, tie: NotSeparable) -> str:
    others = [_words(f, other) for other in tie.tied_to]
    said = TIED[tie.kind] if others or tie.kind != "all" else TIED_TO_NOTHING
    words = {"others": listed(others), "either": listed(others, "or")} if others else {}
    parts = listed(_parts(f, tie.term, tie.tied_to))
    return capital(said.format(name=_words(f, tie.term), parts=parts, **words))


def _parts(f: FactorEffects, *groups: str | tuple[str, ...]) -> list[str]:
    """Every factor named in these terms, once."""
    names = [name for group in groups for name in ((group,) if isinstance(group, str) else group)]
    return list(
        dict.fromkeys(
            f.factor_labels.get(part, part) for name in names for part in name.split(" × ")
        )
    )


def _terms_left_out(f: FactorEffects) -> tuple[str, ...]:
    if not f.left_out_terms:
        return ()
    names = listed([_words(f, name) for name in f.left_out_terms], "or")
    return (
        (
            f"The trial is too small to say whether {names} do more or less than each alone: fewer"
            f" than {LEAST_ERROR_DF} degrees of freedom would be left to judge by. They were taken"
            " not to."
        ),
    )


def _no_judge(f: FactorEffects) -> tuple[str, ...]:
    """Why terms cannot be judged, each with what would help."""
    return tuple(f"{why} {more}" for why, more in _too_few(f))


def _too_few(f: FactorEffects) -> list[tuple[str, str]]:
    """Terms that rest on one mix or one day a level, and factors of which no pair has a range: why
    they cannot be judged, and what would help.
    """
    judged = set(f.contrasts.loc[f.contrasts["ci_low"].notna(), "term"])
    tied = {tie.term for tie in f.not_separable if tie.kind == "all"}
    said = []
    for test in records(f.tests):
        known, name = not math.isnan(test["p_value"]), test["term"]
        if not known and test["why"] in ("one unit", "none left"):
            lacks = "there is nothing to say how far two {} of a kind differ"
        elif known and name in f.not_judged and name not in tied:
            lacks = "the {} are too few, as they were shared out, to judge it by"
        else:
            continue
        one, many = unit_words(test["applied_to"]), unit_words(test["applied_to"], 2)
        whole = " as a whole" if name in judged else ""
        said.append(
            (
                f"{capital(_words(f, name))}{whole} cannot be judged: it was changed from"
                f" {one} to {one}, and {lacks.format(many)}.",
                f"Next time, use more {many} for each.",
            )
        )
    return said


def _never_varied(f: FactorEffects) -> tuple[str, ...]:
    names = [f.factor_labels.get(name, name) for name in f.never_varied]
    verb = "were" if len(names) > 1 else "was"
    return (f"{capital(listed(names))} {verb} not varied among the loaves used.",) if names else ()


def _loaves_left_out(f: FactorEffects) -> tuple[str, ...]:
    """How many loaves were not used, reason by reason."""
    said = []
    for reason, rows in f.left_out.groupby("reason", sort=False):
        n = counted(len(rows), "loaf", "loaves")
        was = "was" if len(rows) == 1 else "were"
        if reason != "lid":
            said.append(f"{n} {was} left out: {str(reason).replace('_', ' ')}.")
        elif (rows["from_terms"] == "all").all():
            said.append(
                f"{n} in lidded tins {was} left out: a loaf that fills its tin can get no bigger,"
                " whatever the dough would have done."
            )
        else:
            said.append(
                f"{n} in lidded tins {was} used for the tin comparison only: a loaf that fills its"
                " tin can get no bigger, whatever the dough would have done."
            )
    return tuple(said)


def _scatter(f: FactorEffects, style: NumberStyle) -> tuple[str, ...]:
    """Where the scatter that no factor explains comes from."""
    scatter = f.variances[f.variances["kind"] == "scatter"]
    positive = scatter["variance"].clip(lower=0)
    if len(scatter) < 2 or positive.sum() == 0:
        return ()
    names = {"loaf": "loaves of one mix" if f.layout.groups else "loaves"}
    shares = [
        f"{number(100 * value / positive.sum(), 0, style)} % between"
        f" {names.get(name, unit_words(name, 2))}"
        for name, value in zip(scatter["source"], positive, strict=True)
    ]
    return (f"Of the scatter that no factor explains, {listed(shares)}.",)


def residual_sentences(checks: ResidualChecks, label: str, style: NumberStyle) -> tuple[str, ...]:
    """Return what looks strange: a loaf, a mix, an uneven scatter; nothing when all is well."""
    said = [
        f"{capital(s.unit)} {s.label}{f' (line {s.line})' if s.line else ''} lies strangely far"
        " from what the others say: look up its records. It was not left out."
        for s in checks.strange
        if s.strange
    ]
    if checks.scale.suggestion == "log":
        said.append(
            f"The scatter of {label} grows with its size: it is more even in logarithms, so"
            " ratios would describe it better than differences."
        )
    elif math.isfinite(checks.spread_p_value) and checks.spread_p_value < STRANGE_SPREAD:
        said.append(
            f"The scatter of {label} is not the same everywhere: intervals are too wide in"
            " some places and too narrow in others."
        )
    return tuple(said)

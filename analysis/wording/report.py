"""The sentences of a report that are not a result's own: meanings, cautions, methods and the glossary."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import pandas as pd

from ...trials import Trial
from ...trials.columns import label, unit
from ..baking_order import BakingOrder
from ..measuring_error import MeasuringError
from .numbers import ENGLISH, NumberStyle, amount, decimals, listed, number

VERDICTS = ("matters", "real, size unsure", "real but small", "no difference that matters", "not settled")

KICKERS = {
    "class": "Bake trial: for the class",
    "bakery": "Bake trial: for the bakery",
    "record": "Bake trial: for the file",
}

# What each verdict means: first where somebody said what difference matters, then where nobody did.
_MEANINGS = {
    "matters": "Even the smallest difference in the likely range is as large as the one you said matters.",
    "real, size unsure": "There is a difference. Whether it is as large as the one you said matters is still open.",
    "real but small": "There is a difference, and it is smaller than the one you said matters.",
    "no difference that matters": "If there is a difference at all, it is smaller than the one you said matters.",
    "not settled": "These loaves fit with no difference, and also with one that matters. That is not the same as "
                   "equal.",
}
_MEANINGS_UNASKED = {
    "real, size unsure": "There is a difference. Nobody wrote on the card what difference would matter, so whether "
                         "it is worth acting on is not judged here.",
    "not settled": "These loaves do not show a difference, and do not show that there is none. Write on the card "
                   "what difference would matter, and the answer can say more.",
}

_SURE = {
    "matters": "Yes, for these doughs and these ovens: each formula was mixed more than once, and the answer holds "
               "across the mixes.",
    "real, size unsure": "Sure that there is a difference, not sure how large it is.",
    "real but small": "Yes: there is a difference, and it is too small to matter to us.",
    "no difference that matters": "Yes: whatever difference there is, it is too small to matter to us.",
    "not settled": "Not yet. Another morning could turn out the other way.",
}

_TRY_NEXT = {
    "matters": "Change one more thing, such as the proof time, and see whether the difference stays.",
    "real, size unsure": "Bake again with more mixes of each formula, to learn how large the difference is.",
    "real but small": "Look at something else that the change may have done: crumb, crust, how long it keeps.",
    "no difference that matters": "Make a bolder change, or look at something else: crumb, crust, how long it "
                                  "keeps.",
    "not settled": "Bake again, with more mixes of each formula. More loaves from the same mix would help little.",
}


def verdict_meaning(verdict: str, asked: bool) -> str:
    """Return what a verdict means; ``asked`` says whether somebody wrote what difference matters."""
    return _MEANINGS[verdict] if asked else _MEANINGS_UNASKED[verdict]


def can_we_be_sure(verdict: str, fewest_mixes: int) -> str:
    """Return the class's answer to "can we be sure?"."""
    if fewest_mixes < 2:
        return "No: a formula that was mixed only once shows its loaves, not how the next mix would come out."
    return _SURE[verdict]


def what_to_try(verdict: str) -> str:
    """Return what a class may try next."""
    return _TRY_NEXT[verdict]


DECISION = ("The numbers do not decide. Cost, keeping, taste, and what your customers and your bakers say weigh "
            "too: the decision is yours.")


def facts(trial: Trial) -> str:
    """Return what the trial was made of: loaves, mixes, days, and how many loaves were left out."""
    loaves = trial.counted
    parts = [counted(len(loaves), "loaf", "loaves")]
    if "mix" in loaves and loaves["mix"].notna().any():
        parts[0] += f" from {counted(loaves['mix'].nunique(), 'mix', 'mixes')}"
    if "day" in loaves and loaves["day"].notna().any():
        parts.append(f"baked on {counted(loaves['day'].nunique(), 'day', 'days')}")
    if len(trial.void):
        parts.append(f"{counted(len(trial.void), 'loaf', 'loaves')} declared void")
    return ", ".join(parts) + "."


def counted(n: int, one: str, many: str) -> str:
    """Return a count with its noun."""
    return f"{n} {one if n == 1 else many}"


def what_was_changed(trial: Trial) -> str:
    """Return the factors with their levels."""
    loaves = trial.counted
    said = []
    for factor in trial.factors:
        levels = trial.card.factors.get(factor) or tuple(sorted(loaves[factor].dropna().unique()))
        words = [f"{v:g}" if isinstance(v, float) else str(v) for v in levels]
        of = f" {unit(factor, trial.card)}".rstrip()
        said.append(f"{label(factor, trial.card).lower()} ({listed(words)}{of})")
    return f"We changed {listed(said)}." if said else "Nothing was changed on purpose."


def what_was_kept(kept: Sequence[str], drifted: Sequence[str]) -> str:
    """Return what was kept the same and what was not, by the names of the conditions."""
    same = f"Kept the same: {listed([k.lower() for k in kept])}." if kept else ""
    not_same = f"Not the same throughout: {listed([d.lower() for d in drifted])}." if drifted else ""
    return " ".join(part for part in (same, not_same) if part) or "Nothing else was written down."


_MADE_FROM = {
    "specific_volume": "the loaf's volume for each gram that it weighs",
    "bake_loss_pct": "what the dough lost in the oven",
    "air_fraction": "the share of the loaf that is air",
    "volume_per_100g_flour": "the loaf's volume for every 100 g of flour in it",
}


def what_was_measured(measure: str, trial: Trial) -> str:
    """Return the measure with what it is made from."""
    made = _MADE_FROM.get(measure)
    in_unit = unit(measure, trial.card)
    return (f"We measured {label(measure, trial.card).lower()}{f' in {in_unit}' if in_unit else ''}"
            f"{f': {made}' if made else ''}.")


def no_question(trial: Trial, measure: str) -> str:
    """Return a question where the card has none."""
    factors = [label(f, trial.card).lower() for f in trial.factors]
    if not factors:
        return "What was baked?"
    return f"What did {listed(factors)} do to {label(measure, trial.card).lower()}?"


def measuring_sentence(error: MeasuringError | None, difference: float, of_unit: str, measure_words: str,
                       style: NumberStyle = ENGLISH) -> str:
    """Return how a difference stands beside what measuring leaves unsure."""
    if error is None:
        return ("How far two readings of one loaf lie apart is not known: no loaf was measured twice. Measure a "
                "few loaves two or three times next time.")
    r = error.repeatability
    places = max(decimals(error.standard_uncertainty, error.limit), 0)
    limit = amount(error.limit, of_unit, places, style)
    rests = (f"{counted(r.n_loaves, 'loaf', 'loaves')} read again show that readings of one loaf scatter by "
             f"{amount(r.sd, 'mL', decimals(r.sd, r.sd) - 1, style)} (standard deviation, {r.df} degrees of "
             f"freedom). Two loaves that are alike may so measure up to {limit} apart in {measure_words.lower()}, "
             f"nineteen times in twenty.")
    if error.exceeds(difference):
        return f"The difference is smaller than the measuring error of a single loaf. {rests}"
    return f"The difference is larger than the measuring error of a single loaf. {rests}"


def not_answered(reason: str) -> str:
    """Return that a part could not be answered, and why."""
    return f"Not answered: {reason}"


FAIR_INTRO = ("A fair test changes one thing and keeps the rest the same, or compares within it. This is what was "
              "written down of each condition.")
NO_FINDINGS = "The checks found nothing in the records that speaks against the comparison."
NOTHING_ASSUMED = "Nothing was taken for granted in reading the records."
NO_VOID = "No loaf was declared void."
EACH_MARK_A_LOAF = "Every small mark is a loaf; the large mark is the mean with its likely range."

CAUTIONS = {
    "heat": "Ovens, tins and steam burn, a lid most of all when it is lifted: gloves, and trained staff at the "
            "oven.",
    "mixer": "Hands, sleeves and hair stay out of a running mixer. Flour dust harms lungs: pour it low.",
    "raw": "Raw flour and dough are not tasted: they can carry germs that only baking kills.",
    "seed": "Seeds used for measuring are kept apart from food and are not eaten; a loaf that lay in them is not "
            "served.",
    "allergen": "Before anyone tastes, the allergens are listed (gluten, milk, egg, soya, sesame and other seeds), "
                "and each taster agrees to taste.",
    "rules": "Local food-safety rules and trained staff come before anything on this page.",
}
CAUTIONS_FOR = {
    "class": ("raw", "heat", "allergen", "rules"),
    "bakery": ("raw", "heat", "seed", "allergen", "rules"),
    "record": tuple(CAUTIONS),
}

GLOSSARY = {
    "Mix": "one batch of dough. Loaves cut from one mix share its flour, water and mixing, so they count as one "
           "try of the formula.",
    "Specific volume": "volume of a loaf divided by its mass, in mL/g: how light the loaf is.",
    "Likely range": "the values that fit with what was measured (95 times in 100, a range found this way holds the "
                    "true value).",
    "Control": "the formula that nothing was changed in, baked beside the others.",
    "Drift": "a condition that was meant to stay the same and did not.",
    "Baker's percentage": "an ingredient's mass for every 100 of flour.",
    "Bake loss": "what the dough loses in the oven, as a percentage of its mass.",
    "Real": "more than chance explains.",
    "Settled": "the likely range is narrow enough to say whether the difference matters.",
}
GLOSSARY_FOR = {
    "class": ("Mix", "Specific volume", "Likely range", "Settled"),
    "record": tuple(GLOSSARY),
}

# Each method with the place where it is published. A report names those that it used.
METHODS: Mapping[str, str] = {
    "volume": "Volume by seed displacement and specific volume: AACC Approved Method 10-05.01.",
    "bake loss": "Bake loss, volume per 100 g of flour, baker's percentages: common practice, no source.",
    "mix": "A formula is judged by how its mixes differ, not its loaves: loaves of one mix are repeat looks at one "
           "dough (split-plot design; Cochran and Cox 1957, Experimental Designs, ch. 7).",
    "reml": "Loaves that share a mix, a day or an oven: restricted maximum likelihood; tests and ranges by Kenward "
            "and Roger 1997, Biometrics 53: 983–997.",
    "means": "Where the mixes vary less than their loaves and the trial is unbalanced: t or F test on the "
             "unweighted means of the mixes.",
    "marginal": "Means average equally over the other factors: Searle, Speed and Milliken 1980, American "
                "Statistician 34: 216–221.",
    "verdict": "No difference that matters: the whole likely range lies inside the difference that matters "
               "(Schuirmann 1987, J. Pharmacokinetics and Biopharmaceutics 15: 657–680, at the range's own level).",
    "percent": "Difference in percent of the control: Fieller 1954, J. Royal Statistical Society B 16: 175–185.",
    "randomisation": "Second opinion: labels of the formulas rearranged among the mixes as the bake could have "
                     "drawn them (Fisher 1935; Phipson and Smyth 2010 where rearrangements are drawn).",
    "dunnett": "Several formulas against one: Dunnett 1955, J. American Statistical Association 50: 1096–1121.",
    "tukey": "All pairs: Tukey and Kramer (Kramer 1956, Biometrics 12: 307–310).",
    "holm": "Several tests at once: Holm 1979, Scandinavian J. Statistics 6: 65–70.",
    "lenth": "One loaf a combination: Lenth 1989, Technometrics 31: 469–473.",
    "measuring": "Measuring error: GUM (JCGM 100:2008), 4.2 and 5.1.6; limit for two results, ISO 5725-6:1994, "
                 "4.1.4.",
    "scores": "Agreement of assessors: Kendall's W; intraclass correlations of Shrout and Fleiss 1979, "
              "Psychological Bulletin 86: 420–428.",
    "colours": "Colours: Okabe and Ito 2008, told apart also by those who see few colours; shapes say the same.",
}


def method_lines(used: Sequence[str]) -> tuple[str, ...]:
    """Return the methods that were used, in the order of the list above."""
    return tuple(words for code, words in METHODS.items() if code in used)


def imprint(version: str, confidence: float, measure: str, matters: float | None, sources: Mapping[str, str],
            style: NumberStyle = ENGLISH) -> tuple[str, ...]:
    """Return the lines at the end: version, settings, and a fingerprint of each file that was read."""
    said = f"difference that matters {number(matters, None, style)}" if matters is not None else (
        "no difference that matters was said")
    level = number(100 * confidence, None, style)
    return (
        f"Made with Fairloaf {version}. Settings: measure {measure}, likely range {level} %, {said}. The same "
        "records and settings give the same report, letter for letter.",
        *(f"{name}: SHA-256 {digest}" for name, digest in sorted(sources.items())),
    )


def drift_sentence(order: BakingOrder, words: str, of_unit: str, style: NumberStyle = ENGLISH) -> str:
    """Return what the picture of the baking order shows."""
    spread = float(order.loaves["left_over"].std())
    change = 10 * order.slope
    scale = max(decimals(spread, spread) - 1, 0)
    if round(abs(change), scale) == 0:
        return f"In the order of baking, {words.lower()} stays level; the factors and mixes are allowed for."
    return (f"In the order of baking, {words.lower()} {'rises' if change > 0 else 'falls'} by "
            f"{amount(abs(change), of_unit, scale, style)} for every ten places; the factors and mixes are allowed "
            f"for.")


ORDER_NOTE = ("Each mark is a loaf: how far it lies from what its factors and its mix explain, in the order of "
              "baking. The line is a description, not a test.")


def left_out_lines(left_out: pd.DataFrame) -> tuple[str, ...]:
    """Return each loaf that was not used, with its reason."""
    return tuple(f"Loaf {row.loaf}: {row.reason}." for row in left_out.itertuples())


def written_text(sentence: str, paths: Sequence[str]) -> str:
    """Return what the command line prints after a report was written."""
    return "\n".join([sentence, "", *(f"Report: {path}" for path in paths)])

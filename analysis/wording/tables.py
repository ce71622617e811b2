"""Captions and column headings of the report's tables and sheets."""

from __future__ import annotations

SHEET_HEADINGS = {
    "answer": "Answer",
    "loaves": "Loaves",
    "columns": "Columns",
    "pictures": "Pictures",
    "meanings": "Column|Name in files|Unit|Kind|Meaning",
}
LOAVES_SHEET = "Every loaf, void ones too, as recorded, with the measures worked out"
COLUMN_SHEET = "What each column of the loaves means"

# Captions and column headings of the report's tables.
CAPTIONS = {
    "means": "{} of each formula",
    "pairs": "Differences between formulas: {}",
    "levels": "The difference, {} less {}, under each condition",
    "measures": "What else differed: {} less {}",
    "formulas": "The formulas in baker's percentages: for every 100 of flour",
    "fair": "The conditions, and the difference when it is adjusted for what drifted",
    "effects": "The factors by the size of what they did: {}",
    "grid": "What each factor did to each measure",
    "tests": "Every test: {}",
    "factor means": "Means of every level: {}",
    "contrasts": "Every pair of levels: {}",
    "variances": "Where the scatter comes from: {}",
    "attributes": "Crumb scores, formula against formula",
    "assessors": "How each assessor scored",
    "agreement": "How far the assessors agree",
    "findings": "What the checks found",
    "tasting tests": (
        "Who can tell the breads apart: right answers, and the share who can tell with its likely"
        " range"
    ),
    "preferences": "Which bread is preferred",
    "ranking": "Ranked breads, pair by pair (difference of rank sums)",
    "words": "The words, those that tell the breads apart first",
    "word pairs": "Words that tell apart, loaf against loaf (people who ticked for one only)",
    "loaves": "Each loaf",
    "settle": "How many mixes a next trial needs of each formula",
    "steadiness": "The answer without each mix and each day",
    "layout": "What was applied to what",
    "units": "What the trial is made of",
    "residuals": "The loaves and mixes that lie farthest off",
    "left out": "Loaves that the answer does not use",
}
_HEADINGS = {
    "ci_low": "Likely from",
    "ci_high": "to",
    "n_mixes": "Mixes",
    "n_loaves": "Loaves",
    "n_units": "Units",
    "standard_error": "Standard error",
    "df": "df",
    "p_value": "p",
    "p_holm": "p (Holm)",
    "num_df": "df 1",
    "den_df": "df 2",
    "f_value": "F",
    "interaction_p": "p (interaction)",
    "ordered_p": "p (as ordered steps)",
    "label": "Measure",
    "matters": "Matters from",
    "low_level": "Lowest at",
    "high_level": "Highest at",
    "adjusted_difference": "Adjusted difference",
    "applied_to": "Applied to",
    "way": "Judged by",
    "why": "Because",
    "kendall_w": "Kendall's W",
    "icc_2_1": "ICC(2,1)",
    "icc_2_1_low": "from",
    "icc_2_1_high": "to ",
    "icc_2_k": "ICC(2,k)",
    "weighted_kappa": "Weighted kappa",
    "message": "What is there",
    "fix": "What to do",
    "n_servings": "Servings",
    "can_tell": "Can tell",
    "can_tell_low": "from",
    "can_tell_high": "to",
    "d_prime": "d′",
    "d_prime_low": "d′ from",
    "d_prime_high": "d′ to",
    "q": "Cochran's Q",
    "p_different": "p (guessing)",
    "p_similar": "p (similar)",
    "p_people_differ": "p (people differ)",
    "p_adjusted": "p (all words)",
    "kappa_low": "kappa from",
    "kappa_high": "kappa to",
    "chose_other": "Chose the other",
    "against_formula": "Against formula",
    "only_first": "Only the first",
    "only_second": "Only the other",
    "label_of_unit": "Which",
    "unit_of_trial": "Kind",
    "left_out": "Without",
    "loaves_in_all": "Loaves in all",
    "rows": "Lines",
    "term": "Term",
    "n_scores": "Scores",
    "above_others": "Scores above the others",
    "use_of_scale": "Uses the scale",
    "ranks_like_others": "Ranks like the others",
    "same_loaf_twice": "Same loaf twice",
    "first": "Level",
    "second": "less level",
}
SUM, HYDRATION = "Sum", "Water for 100 of flour"


def heading(name: str) -> str:
    """Return a column's heading from its name in a result."""
    return _HEADINGS.get(name, name.replace("_", " ").capitalize() if name.islower() else name)


def ingredient_words(name: str) -> str:
    """Return an ingredient as a person writes it."""
    return name.replace("_", " ").capitalize()


def condition_status(status: str, handled: str) -> str:
    """Return what became of a condition, with how a drift was handled."""
    if status != "drifted":
        return status
    return {"in the model": "compared within", "adjusted": "varied"}.get(
        handled, handled or "varied"
    )

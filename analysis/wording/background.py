"""What stands in a report whatever came out: cautions, words explained, methods with their
sources.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from ...trials.columns import label

CAUTIONS = {
    "heat": (
        "Ovens, tins and steam burn, a lid most of all when it is lifted: gloves, and trained staff"
        " at the oven."
    ),
    "mixer": (
        "Hands, sleeves and hair stay out of a running mixer. Flour dust harms lungs: pour it low."
    ),
    "raw": "Raw flour and dough are not tasted: they can carry germs that only baking kills.",
    "seed": (
        "Seeds used for measuring are kept apart from food and are not eaten; a loaf that lay in"
        " them is not served."
    ),
    "allergen": (
        "Before anyone tastes, the allergens are listed (gluten, milk, egg, soya, sesame and other"
        " seeds), and each taster agrees to taste."
    ),
    "rules": "Local food-safety rules and trained staff come before anything on this page.",
}
CAUTIONS_FOR = {
    "class": ("raw", "heat", "allergen", "rules"),
    "wall": ("raw", "heat", "allergen", "rules"),
    "bakery": ("raw", "heat", "seed", "allergen", "rules"),
    "record": tuple(CAUTIONS),
}

GLOSSARY = {
    "Mix": (
        "one batch of dough. Its loaves share flour, water and mixing, so they count as one try."
    ),
    "Specific volume": "a loaf's volume divided by its mass: how light it is.",
    "Likely range": (
        "the values that fit with what was measured (right 95 times in 100, when it is a 95 %"
        " range)."
    ),
    "Settled": "the likely range is narrow enough to say whether the difference matters.",
    "Control": "the formula in which nothing was changed, baked beside the others.",
    "Drift": "what happens to a condition that was meant to stay the same and did not.",
    "Baker's percentage": "an ingredient's mass for every 100 of flour.",
    "Bake loss": "what the dough loses in the oven, as a percentage of its mass.",
    "Degrees of freedom (df)": "how many independent repeats are left to judge by.",
    "p": "how often chance alone would bring a difference this large, were there none.",
}


def words_for_a_class(measure: str) -> tuple[str, ...]:
    """Return the words to explain on a page for a class: those that stand on it."""
    return ("Mix", "Likely range", *(word for word in (label(measure),) if word in GLOSSARY))


# Each method with the place where it is published. A report names those that it used.
METHODS: Mapping[str, str] = {
    "volume": "Volume by seed displacement and specific volume: AACC Approved Method 10-05.01.",
    "bake loss": (
        "Bake loss, volume per 100 g of flour, baker's percentages: common practice, no source."
    ),
    "mix": (
        "A formula is judged by how its mixes differ, not its loaves: loaves of one mix are repeat"
        " looks at one dough (split-plot design; Cochran and Cox 1957, Experimental Designs,"
        " ch. 7)."
    ),
    "reml": (
        "Loaves that share a mix, a day or an oven: restricted maximum likelihood; tests and ranges"
        " by Kenward and Roger 1997, Biometrics 53: 983–997."
    ),
    "means": (
        "Where the mixes vary less than their loaves and the trial is unbalanced: t or F test on"
        " the unweighted means of the mixes (Yates 1934, J. American Statistical Association 29:"
        " 51–66)."
    ),
    "between": (
        "Days, bakers or oven loads of which some had one of the two formulas only: what lies"
        " between them is used beside what lies inside (Yates 1940, Annals of Eugenics 10:"
        " 317–325); mixes of unequally many loaves count alike where nothing else was changed"
        " inside them (Yates 1934, J. American Statistical Association 29: 51–66)."
    ),
    "marginal": (
        "Means average equally over the other factors: Searle, Speed and Milliken 1980, American "
        "Statistician 34: 216–221."
    ),
    "verdict": (
        "No difference that matters: the whole likely range lies inside the difference that matters"
        " (Schuirmann 1987, J. Pharmacokinetics and Biopharmaceutics 15: 657–680, at the range's"
        " own level)."
    ),
    "percent": (
        "Difference in percent of the control: Fieller 1954, J. Royal Statistical Society B 16:"
        " 175–185."
    ),
    "randomisation": (
        "Second opinion: labels of the formulas rearranged among the mixes as the bake could have "
        "drawn them (Fisher 1935; Phipson and Smyth 2010 where rearrangements are drawn)."
    ),
    "dunnett": (
        "Several formulas against one: Dunnett 1955, J. American Statistical Association 50:"
        " 1096–1121."
    ),
    "tukey": "All pairs: Tukey and Kramer (Kramer 1956, Biometrics 12: 307–310).",
    "holm": "Several tests at once: Holm 1979, Scandinavian J. Statistics 6: 65–70.",
    "lenth": "One loaf a combination: Lenth 1989, Technometrics 31: 469–473.",
    "measuring": (
        "Measuring error: GUM (JCGM 100:2008), 4.2 and 5.1.6; limit for two results, ISO"
        " 5725-6:1994, 4.1.4."
    ),
    "scores": (
        "Agreement of assessors: Kendall's W; intraclass correlations of Shrout and Fleiss 1979,"
        " Psychological Bulletin 86: 420–428. Who stands apart: t-tests and F-tests that allow for"
        " how far people differ by nature (Smyth 2004, Stat. Appl. Genet. Mol. Biol. 3, article 3)."
    ),
    "tasting": (
        "Who can tell: exact limits of Clopper and Pearson 1934, Biometrika 26: 404–413, and an"
        " effective number of answers where people tasted more than once (after Korn and Graubard"
        " 1998, Survey Methodology 24: 193–201); sensory distance: Ennis 1993, J. Sensory Studies"
        " 8: 353–370. Rankings: ISO 8587."
    ),
    "ticks": (
        "Words that people tick: Cochran 1950, Biometrika 37: 256–266, breads shuffled inside"
        " people (Phipson and Smyth 2010), all words together by the largest statistic (Westfall"
        " and Young 1993); pairs: Fagerland, Lydersen and Laake 2013, BMC Med. Res. Methodology 13:"
        " 91; agreement: Fleiss 1971, Psychological Bulletin 76: 378–382."
    ),
    "colours": (
        "Colours: Okabe and Ito 2008, told apart also by those who see few colours; shapes say the"
        " same."
    ),
}


def method_lines(used: Sequence[str]) -> tuple[str, ...]:
    """Return the methods that were used, in the order of the list above."""
    return tuple(words for code, words in METHODS.items() if code in used)

"""Tables of the crumb scores and of those who gave them."""

from __future__ import annotations

from ...trials.printing.document import Table
from ..crumb.result import CrumbScores
from ..wording.report import row_verdict_label
from ..wording.tables import CAPTIONS
from .frames import shared_places, table_of


def attributes_table(s: CrumbScores, exact: bool = False) -> Table:
    """Return what the scores say of each attribute."""
    digits = shared_places(s.attributes)
    more = (
        {"df": ("", 1), "p_value": ("", 4), "p_holm": ("", 4), "ordered_p": ("", 4)}
        if exact
        else {}
    )
    called = [
        row_verdict_label(verdict, matters)
        for verdict, matters in zip(s.attributes["verdict"], s.attributes["matters"], strict=True)
    ]
    return table_of(
        s.attributes.assign(verdict=called),
        {
            "label": ("", None),
            "formula": ("", None),
            "against": ("", None),
            "difference": ("points", digits),
            "ci_low": ("points", digits),
            "ci_high": ("points", digits),
            **more,
            "verdict": ("", None),
        },
        CAPTIONS["attributes"],
        "Crumb",
    )


def assessors_table(s: CrumbScores) -> Table:
    """Return how each assessor scored."""
    return table_of(
        s.assessors,
        {
            "assessor": ("", None),
            "n_scores": ("", 0),
            "above_others": ("points", 2),
            "use_of_scale": ("", 2),
            "ranks_like_others": ("", 2),
            "same_loaf_twice": ("points", 2),
            "stands_apart": ("", None),
        },
        CAPTIONS["assessors"],
        "Assessors",
    )


def agreement_table(s: CrumbScores) -> Table:
    """Return how far the assessors agree in each attribute."""
    return table_of(
        s.agreement,
        {
            "attribute": ("", None),
            "n_assessors": ("", 0),
            "n_loaves": ("", 0),
            "kendall_w": ("", 2),
            "p_value": ("", 4),
            "icc_2_1": ("", 2),
            "icc_2_1_low": ("", 2),
            "icc_2_1_high": ("", 2),
            "icc_2_k": ("", 2),
            "weighted_kappa": ("", 2),
        },
        CAPTIONS["agreement"],
        "Agreement",
    )

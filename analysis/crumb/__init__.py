"""Scores and the people who gave them: the panel, its means, agreement, ordered checks, the profile."""

from .score import CrumbScores, crumb_scores

__all__ = ["CrumbScores", "crumb_scores"]

"""Scores and the people who gave them: the panel, its means, agreement, ordered checks, the
profile.

Read in this order: ``result``, ``score``, then its parts.
"""

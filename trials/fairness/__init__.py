"""Formulas against conditions: whether two formulas were baked so that a difference is theirs."""

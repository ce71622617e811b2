"""The parts of a comparison of formulas: fit, pairs, fair test, second opinion, steadiness, what would settle it."""

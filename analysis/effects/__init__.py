"""The parts of the factors' analysis: terms, sizes, curves, sources of scatter, single runs, residuals, the grid."""

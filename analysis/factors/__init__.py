"""Which factor changed the loaf, and by how much: terms, sizes, curves, scatter, single runs, the
grid of measures.

Read in this order: ``result``, ``analyse``, then its parts.
"""

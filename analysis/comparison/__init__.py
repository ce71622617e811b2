"""Two formulas, compared fairly: the difference, its verdict, a second opinion, what would settle
it.

Read in this order: ``result``, ``compare``, then its parts.
"""

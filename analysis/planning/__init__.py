"""What a plan can show before anything is baked: standard errors, smallest differences, days
needed.

Read in this order: ``result``, ``planned_model``, ``variation``, ``what_it_shows``.
"""

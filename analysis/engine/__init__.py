"""The engine's parts: groupings, sufficient statistics, restricted likelihood, Kenward and Roger's tests.

Read in this order: ``least_squares``, ``groupings``, ``components``, ``sufficient``, ``reml``, ``ascent``,
``kenward_roger``, ``many_fits``; ``mixed_model`` beside this folder puts them together.
"""

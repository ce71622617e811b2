"""Numbers, lists and names as text, for both halves of the package."""

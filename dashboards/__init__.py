"""Results in; figures, pages and letters out.

Nothing in this package opens a store or computes a result: it draws what ``analysis`` found and
says it in plain words.
"""

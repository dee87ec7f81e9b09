"""Months and quarters told as a whole, and what became of works that were away."""

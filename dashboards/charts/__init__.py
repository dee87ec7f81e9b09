"""Functions from a result to a matplotlib figure. No pyplot."""

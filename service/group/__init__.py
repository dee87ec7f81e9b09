"""Several houses served together: each behind its own roles, at an address of its own."""

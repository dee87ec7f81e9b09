"""Limits as data, a site's own bands, classes, and the verdicts that follow from them."""

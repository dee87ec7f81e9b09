"""Numbers, ranges, dates, states and causes turned into words."""

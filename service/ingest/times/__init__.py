"""How a time is written, and what it counts: clocks, orders of a date, stamps, the time base."""

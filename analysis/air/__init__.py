"""Air: its moisture, how well a record measures it, and what a room's record amounts to."""

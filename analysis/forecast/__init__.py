"""The days to come: what outdoor air will do to a room, by its own record, and to its works."""

"""A room's air from the stores: loggers corrected, flagged, one standing in for another."""

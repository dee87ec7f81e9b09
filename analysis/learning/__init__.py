"""What looks, loggers in frames and offcuts teach about one work's uncertain numbers."""

"""Tables that people take away as files."""

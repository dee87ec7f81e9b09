"""One command a file; each module has one click command named ``command``."""

"""Stores to estimates: where a work hung, how it was mounted, what looks taught, what is kept."""

"""Telling people while something can still be done."""

"""Slow harm that air can do: ageing, mould, condensation, softened gelatin."""

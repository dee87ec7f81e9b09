"""The register as CSV files, read in and written out (see `register_columns` for every column)."""

from service.storage.register_columns import COLUMN_WORDS, COLUMNS

__all__ = ["COLUMNS", "COLUMN_WORDS"]

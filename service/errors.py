"""Errors of the outer world, as a tree (see `analysis.errors` for the five parts).

StilltautError
├── NotUnderstoodError     a file is no table of readings, or not one we can tell apart
├── QuestionError          a file fits two readings; a person must choose
└── StoreError             a store holds something it should not, or cannot be written
"""

from analysis.errors import StilltautError


class NotUnderstoodError(StilltautError):
    """The file is not a table of readings, or no layout fits it."""


class QuestionError(StilltautError):
    """The file fits more than one reading and guessing would be wrong."""


class StoreError(StilltautError):
    """A store holds something it should not, or cannot be written."""

"""What the register holds, each field declared once: its name, type, unit, bounds, words, help.

From a declaration follow the table's column, the file's column, the form's field, the check before
anything is stored, the row on the page and the JSON schema. A new field is a line in a record's
class, a step of the schema, and the place where it is used.
"""

from analysis.records.declaration import (
    Declaration,
    Fault,
    Field,
    Kind,
    Span,
    declared,
    faults_of,
    model_of,
    require_sound,
)
from analysis.records.register import BY_FILE, BY_TABLE, REGISTER

__all__ = [
    "BY_FILE",
    "BY_TABLE",
    "REGISTER",
    "Declaration",
    "Fault",
    "Field",
    "Kind",
    "Span",
    "declared",
    "faults_of",
    "model_of",
    "require_sound",
]

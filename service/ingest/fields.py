"""One field of a table: how a line is cut into fields, and what kind of thing a field is."""

import csv
import re
from collections.abc import Sequence
from functools import lru_cache

# Words for the halves of the day, without points and blanks, from memory.
FORENOON = ("am", "vorm", "vm", "fm", "ap", "πμ", "dop", "de", "上午", "午前", "오전", "matin")
AFTERNOON = ("pm", "nachm", "nm", "em", "ip", "μμ", "odp", "du", "下午", "午後", "오후", "soir")


def _as_written(words: Sequence[str]) -> str:
    """Return a pattern for words with points and blanks within or without."""
    dotted = [r"\.?\s?".join(map(re.escape, word)) + r"\.?" for word in words]
    return "(?:" + "|".join(sorted(dotted, key=len, reverse=True)) + ")"


AM, PM = _as_written(FORENOON), _as_written(AFTERNOON)
HALF = f"(?:{AM}|{PM})"
ZONE = (
    r"(?:Z|(?:UTC|GMT)(?:\s?[+\-−]\d{1,2}(?::?\d{2})?)?|[+\-−]\d{2}(?::?\d{2})?"
    r"|CES?T|MES?Z|WES?T|EES?T)"
)

BLANKS = "blanks"
# In the order of preference where two fit equally well.
DELIMITERS = {"semicolon": ";", "tab": "\t", "bar": "|", "comma": ",", BLANKS: ""}

# A clock and its half of the day are one field.
_BLANK_RUN = re.compile(
    rf'"[^"]*"|\d{{1,2}}(?:[:.]\d{{2}}){{1,2}} {HALF}(?=\s|$)|\S+', re.IGNORECASE
)

UNIT_AFTER = (
    r"\s*(?:[°º˚]\s*[CFcf]|[CF]|K|%(?:\s*r\.?\s?[hHfF]\.?)?|hPa|mbar|kPa"
    r"|(?:[Gg]rad|[Dd]eg(?:rees?)?\.?)(?:\s?(?:[CF]|Celsius|Fahrenheit))?|[Cc]elsius|[Pp]ercent|pct)"
)
_SUFFIX = rf"(?:{UNIT_AFTER})?"
NUMBER = re.compile(rf"\s*[+\-−]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+\-]?\d+)?{_SUFFIX}\s*")
_GROUPED = re.compile(
    rf"\s*[+\-−]?\d{{1,3}}(?:(?:[.,]\d{{3}})+[.,]\d+|(?:['’ ]\d{{3}})+(?:[.,]\d+)?){_SUFFIX}\s*"
)

_DATE = (
    r"(?:\d{4}([-/.])\d{1,2}\1\d{1,2}|\d{1,2}([-/.])\s?\d{1,2}\2\s?(?:\d{4}|\d{2})\.?"
    r"|\d{1,2}[-/. ]+[^\W\d_]{3,10}\.?[-/. ,]+(?:\d{4}|\d{2})|[^\W\d_]{3,10}\.? \d{1,2},? \d{4})"
)
_CLOCK = (
    rf"(?:{HALF}\s?)?\d{{1,2}}(?:[:h]\d{{2}}(?::\d{{2}}(?:[.,]\d+)?)?|\s?(?:h|uhr)|(?=\s?{HALF}))"
    rf"(?:\s?uhr)?(?:\s?{HALF})?|\d{{4}}(?=\s?(?:UTC|GMT|Z)\s*$)"
)
_OFFSET = rf"(?:\s?{ZONE})?"
DATE = re.compile(rf"\s*(?:[^\W\d_]{{2,9}}[,.]?\s+)?{_DATE}\s*")
CLOCK = re.compile(rf"\s*(?:{_CLOCK}){_OFFSET}\s*", re.IGNORECASE)
_REST = rf"(?:[:.]\d{{2}})?(?:[.,]\d{{1,9}})?(?:\s?{HALF})?(?:\s?{ZONE})?\s*"
STAMP = re.compile(
    rf"\s*(?:[^\W\d_]{{2,9}}[,.]?\s+)?{_DATE}(?:T|,?\s+|_|-)(?:{HALF}\s?)?\d{{1,2}}[:.h]\d{{2}}{_REST}"
    rf"|\s*(?:\d{{8}}|\d{{6}})[T _-](?:\d{{4,6}}|\d{{1,2}}[:.h]\d{{2}}){_REST}",
    re.IGNORECASE,
)

# Texts that stand where a value is missing.
MISSING = re.compile(
    r"\s*(?:[-–—−*.?/_#]+|n/?a|#n/?a|nan|null|none|nil|err(?:or)?|ol|off|missing|void|"
    r"fehl\w*|no data|---?\.-+|\*+\.\*+|-+\.-+|x)?\s*",
    re.IGNORECASE,
)
# The commonest of them, as the fast reader wants them: letter for letter.
MISSING_TEXTS = ["", " ", "-", "--", "---", "----", "--.-", "---.-", "*", "**", "***", "****"]
MISSING_TEXTS += ["NA", "N/A", "n/a", "#N/A", "NaN", "nan", "NAN", "null", "NULL", "None", "?"]
MISSING_TEXTS += ["Err", "ERR", "Error", "ERROR", "OL", "OFF"]
# Numbers written where a value is missing, taken so only where the quantity cannot have them.
MISSING_NUMBERS = [-9999.0, -9999.9, -9900.0, -999.0, -999.9, -999.99, -200.0, -99.0, -99.9]
MISSING_NUMBERS += [-273.15, 999.0, 999.9, 9999.0, 9999.9, 99999.0, -99999.0, -32768.0, 32767.0]


def split(line: str, delimiter: str) -> list[str]:
    """Return the fields of a line; ``delimiter`` is a key of `DELIMITERS`.

    Examples
    --------
    >>> split('"a;b";1,5', "semicolon")
    ['a;b', '1,5']
    >>> split("  2024-01-01   00:00  21.5", "blanks")
    ['2024-01-01', '00:00', '21.5']
    >>> split("7/5/2019   6:00 PM  21.5", "blanks")
    ['7/5/2019', '6:00 PM', '21.5']
    """
    if delimiter == BLANKS:
        return [field.strip('"') for field in _BLANK_RUN.findall(line)]
    if '"' in line:
        cut = csv.reader([line.replace("\r", " ")], delimiter=DELIMITERS[delimiter])
        return next(cut, [])
    return line.split(DELIMITERS[delimiter])


@lru_cache(maxsize=4096)
def kind(field: str) -> str:
    """Return "number", "time", "missing" or "text".

    Examples
    --------
    >>> [kind(f) for f in (",7", "21.5 °C", "31.12.2023", "11:30 PM", "---", "Unit")]
    ['number', 'number', 'time', 'time', 'missing', 'text']
    """
    if len(field) > 60:
        return "text"
    if MISSING.fullmatch(field):
        return "missing"
    if NUMBER.fullmatch(field) or _GROUPED.fullmatch(field):
        return "number"
    if DATE.fullmatch(field) or CLOCK.fullmatch(field) or STAMP.fullmatch(field):
        return "time"
    return "text"

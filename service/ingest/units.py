"""Units as logger files write them, and how each becomes the unit of our names."""

import re
import unicodedata
from dataclasses import dataclass


@dataclass(frozen=True)
class Unit:
    """A unit: what the number is multiplied by, then what is added, to reach the named unit."""

    name: str
    family: str
    scale: float = 1.0
    offset: float = 0.0


FAHRENHEIT = (5.0 / 9.0, -160.0 / 9.0)
UNITS = {
    unit.name: unit
    for unit in (
        Unit("°C", "temperature"),
        Unit("0.1 °C", "temperature", 0.1),
        Unit("°F", "temperature", *FAHRENHEIT),
        Unit("0.1 °F", "temperature", FAHRENHEIT[0] / 10.0, FAHRENHEIT[1]),
        Unit("K", "temperature", 1.0, -273.15),
        Unit("%", "share"),
        Unit("0.1 %", "share", 0.1),
        Unit("fraction", "share", 100.0),
        Unit("Pa", "pressure"),
        Unit("hPa", "pressure", 100.0),
        Unit("0.1 hPa", "pressure", 10.0),
        Unit("kPa", "pressure", 1000.0),
        # NIST SP 811, appendix B.8, from memory: conventional millimetre and inch of mercury.
        Unit("mmHg", "pressure", 133.322),
        Unit("inHg", "pressure", 3386.39),
        Unit("kg/kg", "ratio"),
        Unit("g/kg", "ratio", 0.001),
        Unit("g/m³", "density"),
        Unit("other", "other"),
    )
}

_TENTH = r"(?:0[.,]1|1/10|tenths?|zehntel|dixiemes?|decimas?|decimi|tienden?)\W*(?:of )?(?:a )?"
_DEGREE = r"(?:[°ºø˚*]|deg(?:ree)?s?|grad\w*|gradi|grados?|graus|graden|degres?|astetta|o)?[ _.]*"
# Tried in this order; each must fit the whole text.
_WRITTEN = [
    ("0.1 °C", rf"{_TENTH}{_DEGREE}(?:c|celsius)"),
    ("0.1 °F", rf"{_TENTH}{_DEGREE}(?:f|fahrenheit)"),
    ("0.1 %", rf"{_TENTH}(?:%|per ?cent|prozent|procent).*"),
    ("0.1 hPa", rf"{_TENTH}(?:hpa|mbar|mb)"),
    ("°C", rf"{_DEGREE}(?:c|celsius|cels|centigrade|℃)"),
    ("°F", rf"{_DEGREE}(?:f|fahrenheit|℉)"),
    ("K", r"°?\s?k|kelvin"),
    ("fraction", r"fraction|0 ?(?:-|–|\.\.|to) ?1(?:\.0)?|1|ratio"),
    ("%", r"%.*|(?:r\.?[hf]\.?|h\.?r\.?|u\.?r\.?) ?%|per ?cent\w*|percents?|prozent|procent\w*"),
    ("%", r"pct|pour ?cent|por ?c(?:i)?ento|percento|per cento|prosent\w*|r\.? ?[hf]\.?"),
    ("hPa", r"hpa|mbar|mb|millibar|hektopascal|hectopascals?"),
    ("kPa", r"kpa"),
    ("Pa", r"pa|pascals?"),
    ("mmHg", r"mm ?hg|torr"),
    ("inHg", r"in\.? ?hg"),
    ("g/kg", r"g/kg|g kg-?1"),
    ("kg/kg", r"kg/kg"),
    ("g/m³", r"g/m\^?[3³]|g m-?3"),
    (
        "other",
        r"mm(?:/h)?|cm|k?m|km/h|m/s|kn|knots|mph|lx|lux|k?lux|ppm|ppb|w/m\^?[2²]|j/cm\^?[2²]",
    ),
    ("other", r"deg(?:rees)?|°|m?v|volts?|m?a|dbm?|min|hr?|s|sec|code|code_table|tenths|octas?"),
    ("other", r"octants|cd/m\^?2|unitless|µg/m\^?[3³]|[ck]?wh?|inch(?:es)?|in"),
]
_PATTERNS = [(UNITS[name], re.compile(pattern)) for name, pattern in _WRITTEN]

_BRACKETED = re.compile(r"[(\[{]([^()\[\]{}]*)[)\]}]")
# "rF" is German for relative humidity, not an "r" in °F.
_TRAILING = re.compile(
    r"(?:^|[\s,/_.:;|-]|(?<=[a-zäöü])(?<!\br)(?<!\dr))"
    r"((?:[°ºø˚]\s?|deg(?:rees)?[ _]?)[CF]|[CF]|%\s?\w{0,2}\.?\w?\.?|Celsius|Fahrenheit|celsius"
    r"|fahrenheit|[cf]|hPa|kPa|mbar|mm|lux|ppm|pct|percent)\s*$"
)
_LEGEND = re.compile(
    r"\b(?:in|im|en|i)\s+((?:0[.,]1|1/10)?\s*[^\s,;()]+(?:\s+celsius)?)", re.IGNORECASE
)


def plain(text: str) -> str:
    """Return a text in lower case without accents, the degree sign kept.

    Examples
    --------
    >>> plain("Lämpötila [°C]")
    'lampotila [°c]'
    """
    kept = re.sub(r"Â°|â°|\ufffd(?=[CFcf]\b)|┬░|â\W{0,2}°", "°", text)
    kept = kept.replace("º", "°").replace("˚", "°").replace("℃", "°C").replace("℉", "°F")
    apart = unicodedata.normalize("NFKD", kept.replace("ø", "o").replace("Ø", "O"))
    return "".join(c for c in apart if not unicodedata.combining(c)).casefold()


def unit_of(text: str) -> Unit | None:
    """Return the unit that a text is, or None.

    Examples
    --------
    >>> [unit_of(t).name for t in ("°C", "Grad C", "in 0.1 graden Celsius", "% RH", "mm")]
    ['°C', '°C', '0.1 °C', '%', 'other']
    >>> unit_of("North gallery") is None
    True
    """
    bare = plain(text).strip(" \t\"'")
    bare = re.sub(r"^(?:in|im|en)\s+", "", bare)
    for unit, pattern in _PATTERNS:
        if bare and pattern.fullmatch(bare):
            return unit
    return None


def unit_in(heading: str) -> tuple[Unit | None, str]:
    """Return the unit written within a heading, and the heading without it.

    Examples
    --------
    >>> unit_in("Stn Press (kPa)")[0].name, unit_in("Air temperature °F")[0].name, unit_in("tempC")
    ('kPa', '°F', (Unit(name='°C', family='temperature', scale=1.0, offset=0.0), 'temp'))
    """
    for bracket in _BRACKETED.finditer(heading):
        unit = unit_of(bracket[1])
        if unit:
            return unit, (heading[: bracket.start()] + heading[bracket.end() :]).strip()
    whole = unit_of(heading)
    if whole and not re.fullmatch(
        r"[a-zA-Z]{1,2}|r\.?h\.?|R\.?H\.?|min|code|ratio|\d+", heading.strip()
    ):
        return whole, ""
    heading = re.sub(r"Â°|\ufffd(?=[CFcf]\b)|┬░", "°", heading)
    bare = _BRACKETED.sub("", heading).strip()
    trailing = _TRAILING.search(bare)
    if trailing and trailing.start() > 0:
        return unit_of(trailing[1]), bare[: trailing.start()].strip(" ,/_.:;|-")
    return None, heading


def unit_in_legend(legend: str) -> Unit | None:
    """Return the unit that a line of explanation names, or None.

    Examples
    --------
    >>> unit_in_legend("Temperatuur (in 0.1 graden Celsius) op 1.50 m hoogte").name
    '0.1 °C'
    """
    for bracket in _BRACKETED.finditer(legend):
        unit = unit_of(bracket[1])
        if unit:
            return unit
    stated = _LEGEND.search(legend)
    return unit_of(stated[1]) if stated else None

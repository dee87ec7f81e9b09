"""The register as CSV files: every file, every column, its unit and format, in one place.

The same words go into the README of an archive. Files are UTF-8, separated by commas, with the
column names in the first line. An empty cell means "not known"; a column whose words say
``(required)`` must be filled, and the reader goes by that word. Times are ISO 8601; without an
offset they are UTC; a bare date is midnight UTC. Yes and no are written ``yes`` and ``no``.
"""

from collections.abc import Mapping
from enum import StrEnum

from analysis.works import (
    FRAME_WORDS,
    Adhesive,
    Finish,
    Glazing,
    Grain,
    Mount,
    Panel,
    Paper,
    Wall,
)


def _one_of(choices: type[StrEnum]) -> str:
    """Return the words a column may hold, as one line."""
    return "one of: " + ", ".join(f"'{choice}'" for choice in choices)


BUILDS = "; ".join(f"{build} {words}" for build, words in FRAME_WORDS.items())
TIME = "ISO 8601, UTC, for example 2025-03-01T09:30Z; a bare date is midnight UTC"
SINCE = f"{TIME}; empty: since always or not known"
UNTIL = f"{TIME}; empty: still so"

COLUMN_WORDS: Mapping[str, Mapping[str, str]] = {
    "sites.csv": {
        "site": "short name of the site, used by rooms.csv (required)",
        "name": "name as shown",
        "zone": "IANA time zone in which times are shown, for example Europe/Vienna (required)",
        "altitude_m": "metres above sea level; 0 when empty",
        "note": "free text",
    },
    "rooms.csv": {
        "room": "short name of the room, used everywhere else (required)",
        "site": "a site of sites.csv (required)",
        "name": "name as shown",
        "band_name": "name of the agreed band, for example 'agreed 2024, loans'; empty: no band",
        "rh_low_pct": "lower edge of the agreed band, relative humidity in per cent",
        "rh_high_pct": "upper edge of the agreed band, relative humidity in per cent",
        "temp_low_c": "lower edge of the agreed band, °C",
        "temp_high_c": "upper edge of the agreed band, °C",
        "band_owner": "who agreed to the band",
        "band_since": "date from which the band holds, ISO, for example 2024-06-01",
        "band_review": "date on which it is looked at again, ISO",
        "outside_walls": "which walls are outside walls, in words, for example 'north, east'",
        "store": "yes for a store or study room, no for a gallery; no when empty",
        "note": "free text",
    },
    "bands.csv": {
        "room": "a room of rooms.csv (required)",
        "band_name": "name of a band agreed earlier than the one in rooms.csv (required)",
        "rh_low_pct": "lower edge, relative humidity in per cent",
        "rh_high_pct": "upper edge, relative humidity in per cent",
        "temp_low_c": "lower edge, °C",
        "temp_high_c": "upper edge, °C",
        "band_owner": "who agreed to the band",
        "band_since": "date from which it held, ISO",
        "band_review": "date on which it was to be looked at again, ISO",
    },
    "loggers.csv": {
        "logger": "short name of the logger, as used with `stilltaut add --logger` (required)",
        "description": "what it is, without a maker, for example 'small logger, 10 minutes'",
        "zone": "time base of its clock: IANA zone or fixed offset such as +01:00; empty: asked",
        "interval_s": "seconds between its readings, as set",
        "note": "free text",
    },
    "placements.csv": {
        "logger": "a logger of loggers.csv (required)",
        "room": "a room of rooms.csv (required)",
        "from_utc": SINCE,
        "to_utc": UNTIL,
        "place": "one of: room air, in the frame, behind the frame, outdoors; room air when empty",
        "work_id": "for a logger in or behind a frame: the work of works.csv",
        "position": "where exactly, in words, for example 'north wall, 1.6 m, away from the vent'",
        "note": "free text",
    },
    "calibrations.csv": {
        "logger": "a logger of loggers.csv (required)",
        "channel": "rh_pct or temp_c (required)",
        "from_utc": f"the correction holds from here to the logger's next one; {SINCE}",
        "read_1": "what the logger read at the first point, in the channel's unit (required)",
        "true_1": "what the reference said there (required)",
        "read_2": "what the logger read at the second point; empty: one offset for all values",
        "true_2": "what the reference said there",
        "uncertainty": "expanded uncertainty (k = 2) after correction, in the channel's unit",
        "by": "who did it",
        "reference": "against what: certificate, salt, second instrument",
        "note": "free text",
    },
    "works.csv": {
        "work_id": "number of the work (required)",
        "title": "title as shown (required)",
        "width_mm": "width of the sheet as it hangs, mm (required)",
        "height_mm": "height of the sheet as it hangs, mm (required)",
        "paper": f"{_one_of(Paper)} (required)",
        "finish": f"{_one_of(Finish)} (required)",
        "grain": f"direction of the grain as it hangs, {_one_of(Grain)}; unknown when empty",
        "on_loan": "yes when the work belongs to somebody else; no when empty",
        "note": "free text",
    },
    "mounts.csv": {
        "work_id": "a work of works.csv (required)",
        "mounted_utc": f"when the hinges were set; {SINCE}",
        "mount": f"{_one_of(Mount)}; tension-held when empty",
        "panel": f"{_one_of(Panel)}; paper-faced honeycomb when empty",
        "adhesive": f"{_one_of(Adhesive)}; paste or cellulose ether when empty",
        "hinge_free_length_mm": "length of hinge from print edge to where it is fixed, mm",
        "hinge_coverage": "part of the edge held by hinges, 0 to 1",
        "mounted_rh_pct": "relative humidity of the air when the hinges were set, per cent",
        "mounted_temp_c": "temperature of the air when the hinges were set, °C",
        "by": "who mounted it",
        "note": "free text",
    },
    "frames.csv": {
        "work_id": "a work of works.csv (required)",
        "closed_utc": f"when this frame was closed; {SINCE}",
        "frame": f"build of the frame (required): {BUILDS}",
        "closing_rh_pct": "relative humidity of the air when the frame was closed, per cent",
        "spacer_mm": "distance between print and glazing at rest, mm",
        "glazing": f"{_one_of(Glazing)}; acrylic when empty",
        "conditioned": "yes when the frame holds desiccant, conditioned gel or a unit that "
        "conditions its air; no when empty",
        "by": "who closed it",
        "note": "free text",
    },
    "hangings.csv": {
        "work_id": "a work of works.csv (required)",
        "room": "a room of rooms.csv (required)",
        "from_utc": SINCE,
        "to_utc": UNTIL,
        "wall": f"{_one_of(Wall)}; inside wall when empty",
        "sun_or_spot": "yes when sun or a hot spotlight reaches the work; no when empty",
        "position": "where in the room, in words",
        "note": "free text",
    },
    "overrides.csv": {
        "work_id": "a work of works.csv (required)",
        "name": "name of the number, for example half_time_h, beta_cd (required)",
        "value": "the number, in the parameter's own unit (required)",
        "low": "lower end of its range (required)",
        "high": "upper end of its range (required)",
        "origin": "who measured it, how, when (required)",
        "from_utc": SINCE,
        "withdrawn": "why this number no longer counts; empty: it counts",
        "withdrawn_utc": f"when it was withdrawn; {TIME}",
    },
    "inspections.csv": {
        "work_id": "a work of works.csv (required)",
        "at_utc": f"when it was looked at (required); {TIME}",
        "grade": "0 flat; 1 seen only in raking light; 2 seen in ordinary light from the side; "
        "3 seen from the front at two metres; 4 suspected contact, release or crack (required)",
        "wave_mm": "largest wave, peak to valley, mm, when measured",
        "released": "yes when a hinge was found loose; no when the edges were looked at and all "
        "hold; empty: not looked at",
        "place": "where on the sheet, in words, for example 'lower left'",
        "lamp_side": "side from which the raking light came: left, right, top, bottom",
        "note": "free text",
        "by": "who looked (required)",
        "withdrawn": "why this inspection no longer counts; empty: it counts",
    },
    "events.csv": {
        "site": "a site of sites.csv (required)",
        "room": "a room of rooms.csv; empty: the whole site",
        "kind": "one of: opening, cleaning, works, plant, closure, weather, move, other (required)",
        "from_utc": f"beginning (required); {TIME}",
        "to_utc": f"end; {TIME}; empty: one instant",
        "title": "what it was, in a few words (required)",
        "note": "free text",
    },
}

COLUMNS: dict[str, tuple[str, ...]] = {
    file: tuple(columns) for file, columns in COLUMN_WORDS.items()
}
REQUIRED: dict[str, tuple[str, ...]] = {
    file: tuple(column for column, words in columns.items() if "(required)" in words)
    for file, columns in COLUMN_WORDS.items()
}
# Columns that name a row of another file: (file of that row, its column).
REFERENCES: Mapping[str, tuple[str, str]] = {
    "site": ("sites.csv", "site"),
    "room": ("rooms.csv", "room"),
    "logger": ("loggers.csv", "logger"),
    "work_id": ("works.csv", "work_id"),
}

"""The museum's register as CSV files: rooms, loggers, works, mounts, frames, inspections."""

from collections.abc import Mapping, Sequence
from typing import Any

import pandas as pd

from sample_logs import journey
from sample_logs.climate import ZONE
from sample_logs.instruments import DIED, LOGGERS, MOVED
from sample_logs.journey import (
    BORROWER,
    BORROWER_NAME,
    BORROWER_ZONE,
    CRATE,
    CRATE_NAME,
    HALL,
    HALL_NAME,
)
from sample_logs.works import WORKS, Hung

Row = dict[str, Any]
MUSEUM = "Sallowmere Museum of Photographs"
SITE = "sallowmere"
ROUNDS = ("2025-04-15T10:30Z", "2025-09-10T10:00Z", "2026-02-24T14:00Z")
FLAT_WORDS = {0: "inspected, flat", 1: "soft ripple", 2: "waves", 3: "waves from the front"}
PLACES = ("lower left", "right edge", "lower edge", "centre", "upper right")
SEEN_MM = {1: (0.6, 0.8, 1.0, 1.2), 2: (2.0, 2.5, 3.0)}


def stamp(time: pd.Timestamp) -> str:
    """Return a UTC time as the register's files write it."""
    return time.strftime("%Y-%m-%dT%H:%MZ")


def yes(value: bool) -> str:
    """Return ``yes`` or ``no``."""
    return "yes" if value else "no"


def register() -> Mapping[str, Sequence[Row]]:
    """Return the rows of every file of the register, by file name."""
    return {
        "sites.csv": _sites(),
        "rooms.csv": _rooms(),
        "bands.csv": _earlier_bands(),
        "loggers.csv": _loggers(),
        "placements.csv": _placements(),
        "calibrations.csv": _calibrations(),
        "works.csv": [_work(w) for w in WORKS],
        "mounts.csv": [row for w in WORKS for row in _mounts(w)],
        "frames.csv": [row for w in WORKS for row in _frames(w)],
        "hangings.csv": [row for w in WORKS for row in _hangings(w)],
        "overrides.csv": _overrides(),
        "inspections.csv": _inspections(),
        "events.csv": _events(),
    }


def _sites() -> list[Row]:
    note = "An invented museum; nothing in it exists."
    return [
        {"site": SITE, "name": MUSEUM, "zone": ZONE, "altitude_m": 24, "note": note,
         "borrower": "no"},
        {"site": BORROWER, "name": BORROWER_NAME, "zone": BORROWER_ZONE, "altitude_m": 180,
         "note": note, "borrower": "yes"},
    ]  # fmt: skip


# Bands: name, since, to be looked at again.
AGREED = ("agreed 2024, house", "2024-05-01", "2026-05-01")
LOANS = ("agreed 2024, loans", "2024-05-01", "2026-05-01")
WIDE = ("agreed 2024, historic rooms", "2024-05-01", "2026-05-01")
ROOM_ROWS = (
    ("north", "North Gallery", LOANS, (43, 54, 18, 24), "north, east", False),
    ("long", "Long Gallery", LOANS, (42, 54, 18, 25), "south, roof lights", False),
    ("court", "Court Gallery", AGREED, (40, 55, 18, 25), "none", False),
    ("east", "East Room", WIDE, (30, 58, 16, 26), "east", False),
    ("tower", "Tower Room", WIDE, (45, 68, 10, 24), "north, west, south", False),
    ("store", "Store", AGREED, (40, 52, 14, 20), "none", True),
)


def _rooms() -> list[Row]:
    return [
        {
            "room": room,
            "site": SITE,
            "name": name,
            "band_name": band[0],
            "rh_low_pct": limits[0],
            "rh_high_pct": limits[1],
            "temp_low_c": limits[2],
            "temp_high_c": limits[3],
            "band_owner": "collections care with the house engineer",
            "band_since": band[1],
            "band_review": band[2],
            "outside_walls": walls,
            "store": yes(store),
            "note": "",
            "crate": "no",
        }
        for room, name, band, limits, walls, store in ROOM_ROWS
    ] + [
        {"room": room, "site": site, "name": name, "outside_walls": "none", "store": "no",
         "crate": crate}
        for room, site, name, crate in (
            (HALL, BORROWER, HALL_NAME, "no"), (CRATE, SITE, CRATE_NAME, "yes"))
    ]  # fmt: skip


def _earlier_bands() -> list[Row]:
    """Return the one band that held before: the same for the whole house, narrow, as once usual."""
    return [
        {
            "room": room,
            "band_name": "house band until 2024",
            "rh_low_pct": 45,
            "rh_high_pct": 55,
            "temp_low_c": 19,
            "temp_high_c": 23,
            "band_owner": "house engineer",
            "band_since": "2016-01-01",
            "band_review": "2024-05-01",
        }
        for room in ("north", "long", "court")
    ]


# The clock each logger keeps, as declared when its exports are taken in.
CLOCKS: Mapping[str, str] = {
    "north-1": ZONE,
    "north-2": ZONE,
    "north-frame": "UTC",
    "long-1": "UTC",
    "long-2": ZONE,
    "long-frame": "UTC",
    "court-1": "UTC",
    "court-2": "UTC",
    "court-3": "UTC",
    "east-1": "+00:00",
    "tower-1": ZONE,
    "tower-2": ZONE,
    "store-1": "UTC",
    "spare-1": "+01:00",
    "out-1": "UTC",
    "crate-1": ZONE,
    "hall-1": BORROWER_ZONE,
}
CLOCK_NOTES = {"east-1": "its clock stays on winter time: nobody changes it in spring"}


def _loggers() -> list[Row]:
    return [
        {
            "logger": logger.logger,
            "description": "logger in a frame" if logger.frame_half_time_h else "room logger",
            "zone": CLOCKS[logger.logger],
            "interval_s": 3600,
            "note": CLOCK_NOTES.get(logger.logger, ""),
        }
        for logger in LOGGERS
    ]


# logger -> (place, work, position)
POSITIONS: Mapping[str, tuple[str, str, str]] = {
    "north-1": ("room air", "", "east wall, 1.6 m"),
    "north-2": ("room air", "", "south wall by the lobby doors, 1.7 m"),
    "north-frame": ("in the frame", "2018-02", "lower rebate"),
    "long-1": ("room air", "", "between the third and fourth bay, 1.6 m"),
    "long-2": ("room air", "", "far end, 1.8 m"),
    "long-frame": ("in the frame", "2014-03", "lower rebate"),
    "court-1": ("room air", "", "entrance, 1.6 m"),
    "court-2": ("room air", "", "middle, 1.6 m"),
    "court-3": ("room air", "", "far end, 1.6 m"),
    "east-1": ("room air", "", "cabinet top, away from the radiator"),
    "tower-1": ("room air", "", "inside wall, 1.5 m"),
    "tower-2": ("room air", "", "by the stair, 1.5 m"),
    "store-1": ("room air", "", "end of rack B, 1.4 m"),
    "out-1": ("outdoors", "", "weather shield on the north wall of the building"),
    "crate-1": ("room air", "", "in the foam, by the work"),
    "hall-1": ("room air", "", "as the house that borrows hung it"),
}


def _placements() -> list[Row]:
    rows = []
    for logger in LOGGERS:
        if logger.logger == "spare-1":
            continue
        place, work, position = POSITIONS[logger.logger]
        room = "north" if logger.room == "outdoors" else logger.room
        rows.append(_placed(logger.logger, room, logger.first + "Z", "", place, work, position))
    moved = stamp(MOVED)
    rows.append(
        _placed(
            "spare-1", "court", "2025-01-20T00:00Z", moved, "room air", "", "by the door, 1.6 m"
        )
    )
    rows.append(_placed("spare-1", "store", moved, "", "room air", "", "rack F, 1.4 m"))
    for row in rows:
        if row["logger"] == "crate-1":
            row["to_utc"] = journey.UNPACKED
        if row["logger"] == "tower-2":
            row["note"] = f"silent since {stamp(DIED)}"
    return rows


def _placed(
    logger: str, room: str, first: str, last: str, place: str, work: str, position: str
) -> Row:
    return {
        "logger": logger,
        "room": room,
        "from_utc": first,
        "to_utc": last,
        "place": place,
        "work_id": work,
        "position": position,
        "note": "",
    }


def _calibrations() -> list[Row]:
    by, against = "the house, with the conservator", "saturated salts, 33 and 75 %RH"
    points = (
        ("north-2", "2025-01-15", 34.8, 33.0, 76.9, 75.0, "reads high"),
        ("north-1", "2025-01-15", 33.2, 33.0, 75.4, 75.0, ""),
        ("store-1", "2025-01-16", 33.3, 33.0, 75.1, 75.0, ""),
    )
    return [
        {
            "logger": logger,
            "channel": "rh_pct",
            "from_utc": since,
            "read_1": read_1,
            "true_1": true_1,
            "read_2": read_2,
            "true_2": true_2,
            "uncertainty": 1.5,
            "by": by,
            "reference": against,
            "note": note,
        }
        for logger, since, read_1, true_1, read_2, true_2, note in points
    ]


def _work(work: Hung) -> Row:
    return {
        "work_id": work.work_id,
        "title": work.title,
        "width_mm": work.size_mm[0],
        "height_mm": work.size_mm[1],
        "paper": work.sheet[0],
        "finish": work.sheet[1],
        "grain": work.sheet[2],
        "on_loan": yes(work.on_loan),
        "note": work.note,
    }


def _mounts(work: Hung) -> list[Row]:
    first = {
        "work_id": work.work_id,
        "mounted_utc": work.mounted[0],
        "mount": work.mount[0],
        "panel": work.mount[1],
        "adhesive": work.mount[2],
        "hinge_free_length_mm": work.hinges[0],
        "hinge_coverage": work.hinges[1],
        "mounted_rh_pct": work.mounted[1],
        "mounted_temp_c": work.mounted[2],
        "by": "the bench",
        "note": "",
    }
    if work.mounted_anew is None:
        return [first]
    names = ("mounted_utc", "mounted_rh_pct", "mounted_temp_c")
    anew = dict(zip(names, work.mounted_anew, strict=True))
    return [first, {**first, **anew, "note": "mounted anew: waves had been seen"}]


def _frames(work: Hung) -> list[Row]:
    first = {
        "work_id": work.work_id,
        "closed_utc": work.frame[1],
        "frame": work.frame[0],
        "closing_rh_pct": work.frame[2],
        "spacer_mm": work.front[0],
        "glazing": work.front[1],
        "conditioned": yes(False),
        "by": "the bench",
        "note": "",
    }
    if work.framed_anew is None:
        return [first]
    names = ("frame", "closed_utc", "closing_rh_pct")
    anew = dict(zip(names, work.framed_anew, strict=True))
    return [first, {**first, **anew, "note": "opened, and taped anew"}]


def _hangings(work: Hung) -> list[Row]:
    """Return where a work hung: in one place, but for the one that travelled."""
    home = _hanging(work) | {"left_utc": "", "arrived_utc": "", "opened_utc": ""}
    if work.work_id != journey.WORK:
        return [home]
    out = {"room": CRATE, "left_utc": journey.LEFT, "arrived_utc": journey.ARRIVED,
           "opened_utc": journey.OPENED, "position": ""}  # fmt: skip
    back = out | {"left_utc": journey.LEFT_BACK, "arrived_utc": journey.ARRIVED_BACK,
                  "opened_utc": journey.OPENED_BACK}  # fmt: skip
    return [
        home | {"to_utc": journey.PACKED},
        home | out | {"from_utc": journey.PACKED, "to_utc": journey.UNPACKED},
        home
        | {"room": HALL, "from_utc": journey.UNPACKED, "to_utc": journey.PACKED_BACK,
           "position": ""},
        home | back | {"from_utc": journey.PACKED_BACK, "to_utc": journey.UNPACKED_BACK},
        home | {"from_utc": journey.UNPACKED_BACK},
    ]  # fmt: skip


def _hanging(work: Hung) -> Row:
    in_room = [w.work_id for w in WORKS if w.room == work.room]
    return {
        "work_id": work.work_id,
        "room": work.room,
        "from_utc": max(work.frame[1], "2025-01-01") if work.room != "store" else work.frame[1],
        "to_utc": "",
        "wall": work.wall,
        "sun_or_spot": yes(work.sun),
        "position": f"place {in_room.index(work.work_id) + 1} from the entrance",
        "note": "",
    }


def _overrides() -> list[Row]:
    return [
        {
            "work_id": "2020-06",
            "name": "half_time_h",
            "value": 11,
            "low": 9,
            "high": 14,
            "origin": "logger left in the frame for five weeks, autumn 2024",
            "from_utc": "2024-12-01",
            "withdrawn": "",
            "withdrawn_utc": "",
        }
    ]


def _inspections() -> list[Row]:
    rows = []
    for i, work in enumerate(WORKS):
        for j, (round_utc, grade) in enumerate(zip(ROUNDS, work.grades, strict=True)):
            at = max(pd.Timestamp(round_utc), _after_closing(work, j))
            at += pd.Timedelta(minutes=6 * i)
            rows.append(_inspection(work, i + j, at, grade))
    return sorted(rows, key=lambda row: (row["at_utc"], row["work_id"]))


def _after_closing(work: Hung, look: int) -> pd.Timestamp:
    """Return when a new frame is looked at: the day after it was closed, and ten days later."""
    return pd.Timestamp(work.frame[1], tz="UTC") + pd.Timedelta(days=1 + 10 * look, hours=10)


def _inspection(work: Hung, turn: int, at: pd.Timestamp, grade: int) -> Row:
    waves = SEEN_MM.get(grade, ())
    seen = grade > 0
    return {
        "work_id": work.work_id,
        "at_utc": stamp(at),
        "grade": grade,
        "wave_mm": waves[turn % len(waves)] if waves and turn % 2 else "",
        "released": "",
        "place": PLACES[turn % len(PLACES)] if seen else "",
        "lamp_side": ("left", "right")[turn % 2],
        "note": FLAT_WORDS[grade],
        "by": ("technician", "technician", "conservator")[turn % 3],
        "withdrawn": "",
    }


EVENT_ROWS = (
    ("", "closure", "2025-12-24T16:00Z", "2025-12-27T09:00Z", "Closed over the holidays"),
    ("long", "plant", "2025-08-08T16:30Z", "2025-08-11T09:15Z", "Plant stopped, found Monday"),
    ("court", "works", "2025-10-07T08:00Z", "2025-10-08T15:00Z", "Plant off for a repair"),
    ("", "plant", "2025-12-12T02:10Z", "2025-12-12T08:40Z", "Power lost in the night"),
    ("court", "move", stamp(MOVED), "", "Spare logger carried to the store"),
    (
        "north",
        "opening",
        "2026-03-19T18:00Z",
        "2026-03-19T22:15Z",
        "Opening of the spring show",
    ),
)


def _events() -> list[Row]:
    return [
        {
            "site": SITE,
            "room": room,
            "kind": kind,
            "from_utc": first,
            "to_utc": last,
            "title": title,
            "note": "",
        }
        for room, kind, first, last, title in EVENT_ROWS
    ]

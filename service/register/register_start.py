"""Empty register files to begin with, and a README that explains every column by an example."""

from collections.abc import Mapping
from pathlib import Path

from service.errors import StoreError
from service.register.register_columns import COLUMN_WORDS, COLUMNS
from service.register.register_files import table_text
from service.storage.durable import make_folder, replace_file

README_NAME = "README.md"

# What each file is for, and one line as it might stand there: an invented house.
FILE_WORDS: Mapping[str, str] = {
    "sites.csv": "The house, with the zone in which its people read the time.",
    "rooms.csv": "Rooms with air of their own, and the band agreed for each.",
    "bands.csv": "Bands agreed earlier, so that an old year is judged by what held then.",
    "loggers.csv": "The instruments.",
    "works.csv": "The prints themselves.",
    "placements.csv": "Where each logger hung, from when to when.",
    "calibrations.csv": "What a logger read against a reference. Readings are never edited.",
    "mounts.csv": "How each print is held; a new line for every new mounting.",
    "frames.csv": "The frame around it; a new line for every closing.",
    "hangings.csv": "Where each work hung, from when to when.",
    "overrides.csv": "Numbers measured for one work, in place of the tables' ranges.",
    "inspections.csv": "What people saw. Most people write these on the pages.",
    "events.csv": "What was going on: openings, cleaning, works, closures.",
}
EXAMPLES: Mapping[str, Mapping[str, str]] = {
    "sites.csv": {
        "site": "house",
        "name": "The house on the quay",
        "zone": "Europe/Dublin",
        "altitude_m": "12",
    },
    "rooms.csv": {
        "room": "north",
        "site": "house",
        "name": "North gallery",
        "band_name": "agreed 2025",
        "rh_low_pct": "40",
        "rh_high_pct": "55",
        "temp_low_c": "17",
        "temp_high_c": "23",
        "band_owner": "collections care",
        "band_since": "2025-01-01",
        "outside_walls": "north",
        "store": "no",
    },
    "bands.csv": {
        "room": "north",
        "band_name": "until 2024",
        "rh_low_pct": "45",
        "rh_high_pct": "55",
        "band_owner": "house engineer",
        "band_since": "2016-01-01",
    },
    "loggers.csv": {
        "logger": "north-1",
        "description": "small logger, every hour",
        "zone": "Europe/Dublin",
        "interval_s": "3600",
    },
    "works.csv": {
        "work_id": "2021.04",
        "title": "Slipway, low tide",
        "width_mm": "1500",
        "height_mm": "1000",
        "paper": "fibre base",
        "finish": "glossy",
        "grain": "unknown",
        "on_loan": "no",
    },
    "placements.csv": {
        "logger": "north-1",
        "room": "north",
        "from_utc": "2025-01-01",
        "place": "room air",
        "position": "north wall, 1.6 m, away from the vent",
    },
    "calibrations.csv": {
        "logger": "north-1",
        "channel": "rh_pct",
        "from_utc": "2025-01-15",
        "read_1": "33.2",
        "true_1": "33.0",
        "read_2": "75.9",
        "true_2": "75.4",
        "uncertainty": "1.5",
        "by": "A. Person",
        "reference": "saturated salts, 33 and 75 %RH",
    },
    "mounts.csv": {
        "work_id": "2021.04",
        "mounted_utc": "2024-11-05",
        "mount": "tension-held",
        "panel": "paper-faced honeycomb",
        "adhesive": "paste or cellulose ether",
        "hinge_free_length_mm": "20",
        "hinge_coverage": "1",
        "mounted_rh_pct": "48",
        "mounted_temp_c": "20.5",
        "by": "the bench",
    },
    "frames.csv": {
        "work_id": "2021.04",
        "closed_utc": "2024-11-12",
        "frame": "D",
        "closing_rh_pct": "49",
        "spacer_mm": "12",
        "glazing": "acrylic",
        "conditioned": "no",
        "by": "the bench",
    },
    "hangings.csv": {
        "work_id": "2021.04",
        "room": "north",
        "from_utc": "2025-01-01",
        "wall": "inside wall",
        "sun_or_spot": "no",
        "position": "place 2 from the entrance",
    },
    "overrides.csv": {
        "work_id": "2021.04",
        "name": "half_time_h",
        "value": "22",
        "low": "16",
        "high": "30",
        "origin": "logger in the frame, February 2025, A. Person",
        "from_utc": "2025-02-20",
    },
    "inspections.csv": {
        "work_id": "2021.04",
        "at_utc": "2025-04-15T10:30Z",
        "grade": "1",
        "released": "no",
        "place": "lower left",
        "lamp_side": "left",
        "note": "soft ripple",
        "by": "A. Person",
    },
    "events.csv": {
        "site": "house",
        "room": "north",
        "kind": "opening",
        "from_utc": "2025-03-19T18:00Z",
        "to_utc": "2025-03-19T22:00Z",
        "title": "Opening of the spring show",
    },
}


def write_empty_register(folder: Path) -> list[Path]:
    """Write a file with headings for each table, and the README beside them; return the paths.

    Raises
    ------
    StoreError
        If one of the files is there already: nothing is written over.
    """
    texts = {file: table_text(COLUMNS[file], []) for file in FILE_WORDS}
    texts[README_NAME] = readme()
    there = [name for name in texts if (folder / name).exists()]
    if there:
        raise StoreError(
            read=str(folder),
            where=there[0],
            found="a file that is there already",
            expected="a new or empty folder",
            action="Name another folder, so that nothing is written over.",
        )
    make_folder(folder)
    for name, text in texts.items():
        replace_file(folder / name, text.encode())
    return [folder / name for name in texts]


def example_files() -> dict[str, str]:
    """Return the example line of each file as the text of that file."""
    return {
        file: table_text(COLUMNS[file], [[EXAMPLES[file].get(c, "") for c in COLUMNS[file]]])
        for file in FILE_WORDS
    }


def readme() -> str:
    """Return the explanation of every file and column, each with its example."""
    return "\n\n".join([README, *(_section(file) for file in FILE_WORDS)]) + "\n"


def _section(file: str) -> str:
    rows = [
        f"| `{column}` | {words} | {EXAMPLES[file].get(column, '')} |"
        for column, words in COLUMN_WORDS[file].items()
    ]
    table = "\n".join(["| column | what it holds | example |", "|---|---|---|", *rows])
    return f"## {file}\n\n{FILE_WORDS[file]}\n\n{table}"


README = """# The register of a museum, as CSV files

Fill in what you know. An empty cell means "not known": it widens the answer, or turns it into
"cannot tell", and the pages say which fact would mend it. Only columns marked (required) must be
filled. Begin with sites.csv, rooms.csv, loggers.csv and placements.csv; a work needs a line in
works.csv, mounts.csv, frames.csv and hangings.csv before anything can be said of it.

Any spreadsheet will do: save each table as "CSV UTF-8". Commas, semicolons or tabs between the
cells are all read; where they are not commas, decimal commas are read too. Dates are written
2025-03-01, times 2025-03-01T09:30Z (UTC).

    stilltaut register THIS_FOLDER --data museum --dry-run      # shows what would change
    stilltaut register THIS_FOLDER --data museum                # the same, and keeps it

Reading the same files twice changes nothing. What is in the register but not in a file stays.
The examples below are of one invented work, and belong together."""

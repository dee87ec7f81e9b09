"""The fields of a house, a room, its loggers and its agreed band, in plain words."""

from dashboards.forms.form import Field, Kind
from dashboards.forms.record_fields import YES_NO

# As the register writes them; the words beside are for people.
PLACES = (
    ("room air", "in the room"),
    ("in the frame", "in a frame, with the work"),
    ("behind the frame", "behind a frame, at the wall"),
    ("outdoors", "outdoors"),
)
HOUSE = (
    Field("name", "Name of the house", example="The house on the quay", required=True),
    Field(
        "zone",
        "Time zone",
        example="Europe/Dublin",
        help="Times on all pages are shown in it. Continent/City, as clocks and phones name it.",
        required=True,
    ),
    Field(
        "altitude_m",
        "Height above the sea",
        Kind.NUMBER,
        "m",
        "12",
        without="sea level is taken, which matters little below 500 m",
    ),
)
ROOM_NAME = Field(
    "room",
    "Short name of the room",
    example="north",
    help="Stands in addresses and files, without / \\ ? #. It cannot be changed later.",
    required=True,
)
ROOM = (
    Field("name", "Name as shown", example="North gallery", required=True),
    Field(
        "store",
        "A store or study room",
        Kind.CHOICE,
        choices=YES_NO,
        help="Stores come after galleries in every list.",
    ),
    Field(
        "outside_walls",
        "Outside walls",
        example="north, east",
        without="an outside wall is told work by work, where each hangs",
    ),
    Field("note", "Note", example="one door to the court"),
)
SITE_CHOICE = Field("site", "House", Kind.CHOICE, required=True)
LOGGER_NAME = Field(
    "logger",
    "Short name of the logger",
    example="north-1",
    help="As on its label. It cannot be changed later.",
    required=True,
)
LOGGER = (
    Field("description", "What it is", example="small logger, every hour"),
    Field(
        "zone",
        "Its clock",
        example="Europe/Dublin, UTC or +01:00",
        without="it is asked whenever a file does not say it",
    ),
    Field(
        "interval_s",
        "Time between its readings, as set",
        Kind.NUMBER,
        "s",
        "3600",
        without="it is read from its files",
    ),
)
PLACEMENT = (
    Field(
        "logger",
        "Logger",
        Kind.CHOICE,
        help="One that is new to the house is added on the page of the room first.",
        required=True,
    ),
    Field("place", "Where it hangs", Kind.CHOICE, choices=PLACES, required=True),
    Field(
        "work_id",
        "With which work",
        Kind.CHOICE,
        help="For a logger in or behind a frame: without it a frame’s half-time cannot be learned "
        "from its readings.",
    ),
    Field(
        "from_utc",
        "From",
        Kind.WHEN,
        example="1 January 2025",
        without="all its readings count for this room",
    ),
    Field("to_utc", "Until", Kind.WHEN, help="Empty: it still hangs there."),
    Field("position", "Place in the room", example="north wall, 1.6 m, away from the vent"),
    Field("note", "Note"),
)
BAND = (
    Field("band_name", "Name of the band", example="agreed 2025, loans", required=True),
    Field("rh_low_pct", "Humidity, lower edge", Kind.NUMBER, "%RH", "40", without="it is open"),
    Field("rh_high_pct", "Humidity, upper edge", Kind.NUMBER, "%RH", "55", without="it is open"),
    Field("temp_low_c", "Temperature, lower edge", Kind.NUMBER, "°C", "17", without="it is open"),
    Field("temp_high_c", "Temperature, upper edge", Kind.NUMBER, "°C", "23", without="it is open"),
    Field("band_owner", "Who agreed to it", example="collections care"),
    Field(
        "band_since",
        "Holds since",
        Kind.WHEN,
        example="1 June 2024",
        without="it is taken to have always held",
    ),
    Field("band_review", "To be looked at again on", Kind.WHEN, example="1 June 2026"),
)

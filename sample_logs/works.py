"""Thirty invented works with their mounts and frames, one row each, in the words of the trade."""

from dataclasses import dataclass

RC, FB, INK, COTTON, PET, PLAIN = (
    "resin-coated",
    "fibre base",
    "inkjet, resin-coated",
    "inkjet, cotton",
    "polyester",
    "plain paper",
)
GLOSSY, SEMI, MATT = "glossy", "semi-matt", "matt"
ACROSS, UPRIGHT, UNKNOWN = "horizontal", "vertical", "unknown"
HELD, BONDED, CORNERS, WINDOW = (
    "tension-held",
    "bonded overall",
    "hung by corners or top edge",
    "window mount",
)
HONEYCOMB, METAL, BOARD = "paper-faced honeycomb", "metal-faced honeycomb", "museum board"
PASTE, TACKY = "paste or cellulose ether", "pressure-sensitive or tacky acrylic"
STARCH, ETHER = "starch paste", "cellulose ether"
IN, OUT, STONE = "inside wall", "outside wall, insulated", "outside wall, solid masonry"
NONE, GLASS, ACRYLIC = "none", "glass", "acrylic"


@dataclass(frozen=True)
class Hung:
    """One work: the sheet, where it hangs, how it is mounted, how it is framed, what was seen.

    ``grades`` are those of the three rounds; None stands for what nobody wrote down. A later
    mounting and closing are in ``mounted_anew`` and ``framed_anew``.
    """

    work_id: str
    title: str
    size_mm: tuple[int, int]
    sheet: tuple[str, str, str]
    room: str
    wall: str
    mount: tuple[str, str, str]
    hinges: tuple[int | None, float | None]
    mounted: tuple[str, float | None, float | None]
    frame: tuple[str, str, float | None]
    front: tuple[float | None, str]
    grades: tuple[int, int, int]
    on_loan: bool = False
    sun: bool = False
    note: str = ""
    mounted_anew: tuple[str, float | None, float | None] | None = None
    framed_anew: tuple[str, str, float | None] | None = None


# fmt: off
WORKS = (
    # North Gallery: the newest hang, some of it unglazed, and the opening night of March.
    Hung("2016-03", "Breakwater, low sun", (1800, 1440), (FB, GLOSSY, ACROSS), "north", IN,
         (HELD, HONEYCOMB, PASTE), (20, 1.0), ("2026-02-10", 44.0, 20.5), ("A", "2026-02-12", None),
         (None, NONE), (0, 0, 0)),
    Hung("2017-11", "Ferry deck, empty", (1500, 1200), (FB, SEMI, UPRIGHT), "north", IN,
         (HELD, HONEYCOMB, PASTE), (20, 1.0), ("2024-11-05", 50.0, 20.0), ("D", "2024-11-12", 50.0),
         (12, ACRYLIC), (0, 1, 0)),
    Hung("2018-02", "Orchard in fog II", (2200, 1600), (RC, SEMI, ACROSS), "north", IN,
         (HELD, METAL, TACKY), (10, 1.0), ("2024-10-21", 51.0, 20.5), ("D", "2024-10-28", 50.0),
         (20, ACRYLIC), (0, 0, 0), True),
    Hung("2018-07", "Net loft", (1600, 1250), (COTTON, MATT, UNKNOWN), "north", OUT,
         (HELD, HONEYCOMB, PASTE), (20, 1.0), ("2026-02-03", 46.0, 20.0), ("B", "2026-02-05", None),
         (None, NONE), (0, 0, 0)),
    Hung("2019-04", "Stairwell with three lamps", (1250, 1000), (FB, MATT, UPRIGHT), "north", OUT,
         (HELD, BOARD, TACKY), (12, 1.0), ("2024-12-02", 50.0, 19.5), ("C", "2024-12-04", 49.0),
         (10, GLASS), (0, 0, 0)),
    Hung("2019-09", "The long drive", (2500, 1250), (INK, GLOSSY, ACROSS), "north", IN,
         (BONDED, METAL, TACKY), (None, None), ("2023-05-15", None, None),
         ("C", "2023-05-20", None),
         (15, ACRYLIC), (0, 0, 0)),
    Hung("2021-05", "Slipway", (1400, 1100), (FB, GLOSSY, ACROSS), "north", IN,
         (HELD, METAL, PASTE), (20, 1.0), ("2026-01-14", 41.0, 19.5), ("C", "2026-01-19", 42.0),
         (12, ACRYLIC), (0, 0, 1), False, False, "mounted in the dry weeks of January"),
    # Long Gallery: framed and taped, under the roof lights; the plant failure of August.
    Hung("2012-08", "Herring gulls, first light", (1500, 1000), (FB, SEMI, UPRIGHT), "long", IN,
         (HELD, HONEYCOMB, PASTE), (20, 1.0), ("2024-09-09", 51.0, 21.5), ("D", "2024-09-16", 51.0),
         (15, ACRYLIC), (0, 1, 0)),
    Hung("2014-03", "Peat cutters' road", (1900, 1500), (RC, GLOSSY, ACROSS), "long", IN,
         (HELD, METAL, TACKY), (10, 1.0), ("2024-06-11", 54.0, 22.0), ("E", "2024-06-18", 53.0),
         (20, ACRYLIC), (0, 0, 0), False, False, "a logger is in this frame"),
    Hung("2014-06", "Kitchen, north light", (1000, 800), (FB, GLOSSY, UNKNOWN), "long", IN,
         (HELD, BOARD, PASTE), (20, 1.0), ("2025-02-04", 45.0, 20.5), ("D", "2025-02-10", 45.0),
         (8, GLASS), (0, 2, 1), mounted_anew=("2026-03-03", 50.0, 20.5),
         framed_anew=("D", "2026-03-05", 50.0)),
    Hung("2015-10", "Salt pans", (2400, 1800), (COTTON, MATT, ACROSS), "long", OUT,
         (HELD, HONEYCOMB, PASTE), (20, 1.0), ("2024-08-20", 56.0, 22.5), ("C", "2024-08-27", 55.0),
         (25, ACRYLIC), (0, 0, 0)),
    Hung("2016-09", "Choir practice", (1200, 950), (FB, SEMI, ACROSS), "long", IN,
         (HELD, HONEYCOMB, PASTE), (20, 1.0), ("2023-10-03", None, None), ("D", "2023-10-10", None),
         (12, ACRYLIC), (0, 1, 0), False, False, "older mount: nobody wrote down the air"),
    Hung("2018-11", "Quarry lake", (2000, 1600), (RC, GLOSSY, UPRIGHT), "long", IN,
         (HELD, METAL, TACKY), (10, 1.0), ("2024-03-04", 48.0, 20.0), ("F", "2024-03-12", 48.0),
         (20, GLASS), (0, 0, 0), True),
    Hung("2020-01", "Glasshouse, noon", (1300, 1050), (INK, SEMI, UNKNOWN), "long", IN,
         (HELD, HONEYCOMB, TACKY), (12, 0.8), ("2024-07-01", 53.0, 22.0), ("C", "2024-07-04", 53.0),
         (12, ACRYLIC), (0, 1, 0), False, True, "the sun reaches it in the early afternoon"),
    # Court Gallery: inkjet and polyester; the humidifier that sticks on a Sunday.
    Hung("2020-06", "Car park, level four", (1750, 1400), (INK, GLOSSY, ACROSS), "court", IN,
         (HELD, HONEYCOMB, PASTE), (20, 1.0), ("2024-11-19", 45.0, 20.0), ("C", "2024-11-21", 45.0),
         (15, ACRYLIC), (0, 1, 0)),
    Hung("2020-12", "Market hall before opening", (2100, 1400), (INK, SEMI, UPRIGHT), "court", IN,
         (HELD, METAL, TACKY), (10, 1.0), ("2024-05-27", 52.0, 21.0), ("D", "2024-06-03", 51.0),
         (20, ACRYLIC), (0, 0, 0), True),
    Hung("2021-02", "Tide tables", (1100, 850), (PLAIN, MATT, UPRIGHT), "court", IN,
         (HELD, BOARD, PASTE), (20, 1.0), ("2025-03-10", 46.0, 20.5), ("B", "2025-03-12", None),
         (None, NONE), (0, 1, 0)),
    Hung("2021-08", "Light box, unlit", (1600, 1200), (PET, GLOSSY, UNKNOWN), "court", IN,
         (HELD, METAL, TACKY), (10, 1.0), ("2024-05-28", 50.0, 21.0), ("A", "2024-05-30", None),
         (None, NONE), (0, 0, 0)),
    Hung("2022-01", "Swimmers, indoor pool", (1800, 1200), (COTTON, MATT, ACROSS), "court", IN,
         (HELD, HONEYCOMB, PASTE), (20, 1.0), ("2024-09-30", 52.0, 20.5), ("C", "2024-10-02", 51.0),
         (15, ACRYLIC), (0, 0, 0), framed_anew=("E", "2026-03-17", 47.0)),
    Hung("2022-05", "Dry dock II", (900, 700), (FB, SEMI, ACROSS), "court", IN,
         (WINDOW, BOARD, STARCH), (None, None), ("2022-05-12", 48.0, 20.0),
         ("C", "2022-05-12", 48.0),
         (6, GLASS), (0, 1, 0)),
    # East Room: radiators and no humidifier; dry every winter.
    Hung("2009-12", "Chapel interior", (1000, 1250), (FB, GLOSSY, UPRIGHT), "east", STONE,
         (HELD, HONEYCOMB, PASTE), (20, 1.0), ("2024-08-12", 52.0, 23.0), ("D", "2024-08-15", 52.0),
         (10, GLASS), (0, 0, 1)),
    Hung("2011-07", "Rope walk", (1500, 850), (FB, SEMI, ACROSS), "east", IN,
         (HELD, METAL, TACKY), (6, 0.7), ("2024-07-22", 54.0, 23.5), ("C", "2024-07-25", 53.0),
         (10, ACRYLIC), (0, 1, 1), False, False, "hinges looked drawn at the lower corners"),
    Hung("2013-02", "Lamp room", (850, 1050), (RC, SEMI, UNKNOWN), "east", OUT,
         (HELD, HONEYCOMB, TACKY), (12, 0.8), ("2024-04-08", 44.0, 20.5), ("E", "2024-04-11", 43.0),
         (12, ACRYLIC), (0, 0, 0)),
    Hung("2013-05", "Field boundary, March", (2000, 800), (FB, MATT, ACROSS), "east", IN,
         (CORNERS, BOARD, ETHER), (None, None), ("2019-06-03", 50.0, 21.0),
         ("C", "2019-06-03", 50.0),
         (15, ACRYLIC), (1, 1, 1)),
    # Tower Room: hardly heated, damp walls.
    Hung("2008-04", "Harbour wall, spring tide", (1200, 900), (FB, SEMI, UPRIGHT), "tower", STONE,
         (HELD, HONEYCOMB, PASTE), (20, 1.0), ("2025-01-08", 53.0, 14.5), ("D", "2025-01-13", 54.0),
         (10, GLASS), (1, 2, 1)),
    Hung("2010-09", "Lighthouse keepers", (1300, 1000), (FB, GLOSSY, ACROSS), "tower", IN,
         (HELD, METAL, PASTE), (20, 1.0), ("2024-10-07", 72.0, 16.0), ("C", "2024-10-10", 71.0),
         (12, ACRYLIC), (0, 0, 0)),
    Hung("2010-10", "Wreck at low water", (1600, 1300), (RC, GLOSSY, UPRIGHT), "tower", STONE,
         (HELD, METAL, TACKY), (10, 1.0), ("2023-06-19", 60.0, 18.5), ("E", "2023-06-26", None),
         (15, ACRYLIC), (0, 1, 1), True, False, "closed elsewhere; closing humidity not known"),
    Hung("2015-01", "Signal mast", (800, 1600), (COTTON, SEMI, UNKNOWN), "tower", IN,
         (HELD, HONEYCOMB, PASTE), (20, 1.0), ("2025-02-17", 58.0, 14.0), ("C", "2025-02-19", 58.0),
         (12, ACRYLIC), (0, 1, 2), False, False, "seen slack along the right edge in February"),
    # Store: waiting their turn.
    Hung("2007-02", "Ploughed field, snow", (1500, 1500), (FB, SEMI, ACROSS), "store", IN,
         (HELD, HONEYCOMB, PASTE), (20, 1.0), ("2024-02-12", 50.0, 18.0), ("C", "2024-02-15", 49.0),
         (15, ACRYLIC), (0, 0, 0)),
    Hung("2023-03", "Bandstand, closed", (2300, 1500), (RC, GLOSSY, ACROSS), "store", IN,
         (HELD, METAL, TACKY), (10, 1.0), ("2024-12-09", 48.0, 18.0), ("F", "2024-12-16", 47.0),
         (25, ACRYLIC), (0, 0, 0)),
)
# fmt: on

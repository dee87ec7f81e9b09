"""What many houses come to, by decade, from what one of each costs.

``python -m bench paper_plan`` prints the tables of the guide *Many houses* in English and German.
They are computed from ``unit_costs.toml`` alone: what was measured, by which bench, and what was
assumed. A test holds the guide to them.
"""

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from babel.numbers import format_decimal

UNIT_COSTS = Path(__file__).with_name("unit_costs.toml")
HOUSES = (1, 10, 100, 200, 1_000)
Word = Callable[[str], str]
LOCALES = {"en": "en_GB", "de": "de_DE"}
WEEKS, DAYS, HOURS, MINUTES = 52.18, 365.25, 8766.0, 525_960.0

# What German says for the words of the tables.
GERMAN: Mapping[str, str] = {
    "What": "Was",
    "Costs": "Kostet",
    "Measured by": "Gemessen mit",
    "Of one house, a year": "Von einem Haus, im Jahr",
    "Processor, h": "Prozessor, h",
    "Share": "Anteil",
    "Houses": "Häuser",
    "Readings a year, millions": "Messwerte im Jahr, Millionen",
    "Processor a year, h": "Prozessor im Jahr, h",
    "Processors on average": "Prozessoren im Mittel",
    "Processors on Monday": "Prozessoren am Montag",
    "Memory, GB": "Arbeitsspeicher, GB",
    "Disk a year, GB": "Platte im Jahr, GB",
    "Disk after ten years, GB": "Platte nach zehn Jahren, GB",
    "Processes": "Prozesse",
    "What gives way first": "Was zuerst nachgibt",
    "nothing: one process has room": "nichts: ein Prozess hat Platz",
    "the processor, hour by hour": "der Prozessor, Stunde um Stunde",
    "the processor, on Monday": "der Prozessor, am Montag",
    "memory": "der Arbeitsspeicher",
    "threads": "die Threads",
    "disk": "die Platte",
    "files taken in": "Dateien aufgenommen",
    "works judged after them": "Werke danach beurteilt",
    "works judged hour by hour": "Werke Stunde um Stunde beurteilt",
    "pages": "Seiten",
    "letters": "Briefe",
    "first page of the group": "erste Seite der Gruppe",
    "all": "alles",
    "assumed": "angenommen",
}


@dataclass(frozen=True)
class Unit:
    """One row of the table of unit costs."""

    value: float
    what: str
    unit: str
    source: str
    german: str


@dataclass(frozen=True)
class Plan:
    """What so many houses come to."""

    houses: int
    readings_millions: float
    processor_h: float
    monday: float
    memory_gb: float
    disk_gb: float
    disk_ten_years_gb: float
    processes: int
    gives_way: str

    @property
    def average(self) -> float:
        """Processors that are busy, on average over the year."""
        return self.processor_h / HOURS


def units() -> dict[str, Unit]:
    """Return the table of unit costs, by name."""
    rows = tomllib.loads(UNIT_COSTS.read_text(encoding="utf-8"))
    return {
        name: Unit(float(row["value"]), row["what"], row["unit"], row["from"], row["german"])
        for name, row in rows.items()
    }


def year_of_a_house(of: Mapping[str, float]) -> dict[str, float]:
    """Return the processor hours of one house in a year, by what they go into."""
    seconds = {
        "files taken in": of["files_a_week"] * WEEKS * of["file_taken_in_s"],
        "works judged after them": of["works"] * WEEKS * of["work_week_judged_s"],
        "works judged hour by hour": of["works"] * HOURS * of["work_hour_judged_s"],
        "pages": of["pages_a_day"] * DAYS * of["page_s"],
        "letters": of["letters_a_week"] * WEEKS * of["letter_s"],
        "first page of the group": of["group_pages_a_day"] * DAYS * of["group_line_s"],
    }
    return {name: value / 3600 for name, value in seconds.items()}


def plan(houses: int, of: Mapping[str, float]) -> Plan:
    """Return what so many houses come to, and what gives way first in one process."""
    readings = of["points"] * MINUTES / of["minutes"]
    processor_h = houses * sum(year_of_a_house(of).values())
    morning_s = of["files_a_week"] * of["file_taken_in_s"] + of["works"] * of["work_week_judged_s"]
    monday = houses * morning_s / (3600 * of["morning_h"])
    grows_gb = (
        readings * of["reading_b"] / 1e9
        + of["files_a_week"] * WEEKS * of["file_original_kb"] / 1e6
        + of["works"] * WEEKS * of["work_week_kept_kb"] / 1e6
    )
    begins_gb = (of["register_kb"] + of["works"] * of["work_kept_kb"]) / 1e6
    house_mb = of["house_open_mb"] + of["works"] * of["work_answers_mb"]
    most = {
        "the processor, hour by hour": processor_h / HOURS / of["process_average"],
        "the processor, on Monday": monday / of["process_monday"],
        "memory": (of["program_mb"] + houses * house_mb) / (1e3 * of["process_gb"]),
        "threads": houses * of["house_threads"] / of["process_threads"],
        "disk": houses * (begins_gb + 10 * grows_gb) / (1e3 * of["disk_tb"]),
    }
    first = max(most, key=lambda name: most[name])
    processes = max(1, *(int(-(-value // 1)) for name, value in most.items() if name != "disk"))
    return Plan(
        houses=houses,
        readings_millions=houses * readings / 1e6,
        processor_h=processor_h,
        monday=monday,
        memory_gb=(processes * of["program_mb"] + houses * house_mb) / 1e3,
        disk_gb=houses * grows_gb,
        disk_ten_years_gb=houses * (begins_gb + 10 * grows_gb),
        processes=processes,
        gives_way=first if most[first] > 1 else "nothing: one process has room",
    )


def tables(language: str) -> list[str]:
    """Return the tables of the guide, line by line, in a language."""
    known = units()
    of = {name: one.value for name, one in known.items()}
    word = GERMAN.__getitem__ if language == "de" else str
    return [
        *_unit_table(known, language, word),
        "",
        *_house_table(of, language, word),
        "",
        *_year_table(of, language, word),
        "",
        *_need_table(of, language, word),
    ]


def _unit_table(known: Mapping[str, Unit], language: str, word: Word) -> list[str]:
    rows = [
        [
            one.german if language == "de" else one.what,
            f"{number(one.value, language)} {one.unit}".strip(),
            word("assumed") if one.source == "assumed" else f"`{one.source}`",
        ]
        for one in known.values()
    ]
    return _table([word("What"), word("Costs"), word("Measured by")], rows)


def _house_table(of: Mapping[str, float], language: str, word: Word) -> list[str]:
    year = year_of_a_house(of)
    whole = sum(year.values())
    rows = [
        [word(name), number(hours, language), share(hours / whole, language)]
        for name, hours in [*year.items(), ("all", whole)]
    ]
    return _table([word("Of one house, a year"), word("Processor, h"), word("Share")], rows)


def _year_table(of: Mapping[str, float], language: str, word: Word) -> list[str]:
    """Return what a year of so many houses comes to."""
    heading = (
        "Houses", "Readings a year, millions", "Processor a year, h", "Disk a year, GB",
        "Disk after ten years, GB",
    )  # fmt: skip
    rows = []
    for one in (plan(houses, of) for houses in HOUSES):
        figures = (
            one.houses, one.readings_millions, one.processor_h, one.disk_gb, one.disk_ten_years_gb,
        )  # fmt: skip
        rows.append([number(value, language) for value in figures])
    return _table([word(name) for name in heading], rows)


def _need_table(of: Mapping[str, float], language: str, word: Word) -> list[str]:
    """Return what must be there for so many houses."""
    heading = (
        "Houses", "Processors on average", "Processors on Monday", "Memory, GB", "Processes",
        "What gives way first",
    )  # fmt: skip
    rows = []
    for one in (plan(houses, of) for houses in HOUSES):
        figures = (one.houses, one.average, one.monday, one.memory_gb, one.processes)
        rows.append([*(number(value, language) for value in figures), word(one.gives_way)])
    return _table([word(name) for name in heading], rows)


def _table(heading: list[str], rows: list[list[str]]) -> list[str]:
    lines = [heading, ["---"] * len(heading), *rows]
    return [f"| {' | '.join(line)} |" for line in lines]


def share(part: float, language: str) -> str:
    """Return a part in per cent; what is next to nothing as that.

    Examples
    --------
    >>> share(0.954, "en"), share(0.00001, "de")
    ('95 %', '< 0,1 %')
    """
    least = 0.001
    small = part < least
    return f"{'< ' * small}{number(100 * max(part, least), language)} %"


def number(value: float, language: str) -> str:
    """Return a figure with two digits that count, whole from 100 on.

    Examples
    --------
    >>> number(0.01234, "en"), number(1234.5, "en"), number(2.75, "de")
    ('0.012', '1,230', '2,8')
    """
    digits = 3 if value >= 1000 else 2
    rounded = float(f"{value:.{digits}g}")
    return str(format_decimal(rounded, format="#,##0.######", locale=LOCALES[language]))


def run() -> list[str]:
    """Return the tables in both languages."""
    return [*tables("en"), "", *tables("de")]


if __name__ == "__main__":
    print("\n".join(run()))

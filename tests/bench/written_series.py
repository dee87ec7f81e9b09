"""A known series of readings, written down in a random way: what the reader must give back.

`written` takes a number and returns a file: the readings are drawn first, then how they are written
(layout, words of the headings, form of the times, units, delimiter, preamble, order), then what
went wrong on the way. The words are plain ones of the trade in each language.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from bench.written_times import TIME_FORMS, TimeForm

Rng = np.random.Generator
Cells = list[str]


@dataclass(frozen=True)
class Words:
    """How one language names the columns."""

    time: str
    date: str
    clock: str
    temp: tuple[str, ...]
    rh: tuple[str, ...]
    sensor: str = "Sensor"


LANGUAGES = (
    Words("Time", "Date", "Time of day", ("Temperature", "Air temperature", "Temp."),
          ("Relative humidity", "Humidity", "RH"), "Sensor"),
    Words("Read at", "Day", "Clock", ("Temperature of the air", "Temp"),
          ("Humidity of the air", "Air humidity", "rel. humidity"), "Room"),
    Words("Zeit", "Datum", "Uhrzeit", ("Temperatur", "Lufttemperatur"),
          ("Relative Feuchte", "rel. Luftfeuchte", "Feuchte", "rF"), "Raum"),
    Words("Horodatage", "Date", "Heure", ("Température", "Température de l'air"),
          ("Humidité relative", "Humidité", "HR"), "Salle"),
    Words("Fecha y hora", "Fecha", "Hora", ("Temperatura",), ("Humedad relativa", "Humedad", "HR"),
          "Sala"),
    Words("Data e ora", "Data", "Ora", ("Temperatura", "Temp. aria"),
          ("Umidità relativa", "Umidità", "UR"), "Sala"),
    Words("Data e hora", "Data", "Hora", ("Temperatura",), ("Humidade relativa", "Umidade"),
          "Sala"),
    Words("Tijdstip", "Datum", "Tijd", ("Temperatuur", "Luchttemperatuur"),
          ("Relatieve vochtigheid", "Vochtigheid", "RV"), "Zaal"),
    Words("Tidspunkt", "Dato", "Klokkeslæt", ("Temperatur", "Lufttemperatur"),
          ("Relativ fugtighed", "Luftfugtighed"), "Rum"),
    Words("Tidpunkt", "Datum", "Klockslag", ("Temperatur",), ("Relativ fuktighet", "Luftfuktighet"),
          "Rum"),
    Words("Aika", "Päivä", "Kello", ("Lämpötila",), ("Suhteellinen kosteus", "Kosteus"), "Huone"),
    Words("Czas", "Data", "Godzina", ("Temperatura", "Temperatura powietrza"),
          ("Wilgotność względna", "Wilgotność"), "Sala"),
    Words("Čas", "Datum", "Hodina", ("Teplota", "Teplota vzduchu"),
          ("Relativní vlhkost", "Vlhkost"), "Místnost"),
    Words("timestamp", "date", "time", ("temp_c", "temperature", "t_air"),
          ("rh_pct", "humidity", "rh"), "sensor_id"),
)  # fmt: skip
ROOMS = ("North Gallery", "Long Gallery", "Store", "Stair", "Court", "Attic")
MISSING = ("", "---", "N/A", "-9999", "NaN")
TEMP_UNITS = {"°C": (1.0, 0.0, 1), "°F": (1.8, 32.0, 1), "K": (1.0, 273.15, 2)}
RH_UNITS = {"%": (1.0, 1), "fraction": (0.01, 3)}
UNIT_SHAPES = ("{0} ({1})", "{0} [{1}]", "{0} {1}", "{0}, {1}", "{0} in {1}", "{0}/{1}", "{0}_{1}")


@dataclass
class Written:
    """A file, and what it says.

    ``truth`` holds the readings by sensor ("" for one alone): an index in UTC, ``temp_c`` and
    ``rh_pct``. ``damaged`` are the times (UTC) at which a reading may be missing, never be
    different. ``columns`` is what a person who knows the file would say where headings fail,
    ``no_answer`` tells that only a question or a refusal is right,
    ``time_columns`` the columns of the time as they are named together, ``line_times`` the time in
    each line of a text file, None where it holds no row.
    """

    number: int
    name: str
    data: bytes
    truth: dict[str, pd.DataFrame]
    zone: str
    day_first: bool | None
    facts: tuple[str, ...]
    damaged: set[pd.Timestamp] = field(default_factory=set)
    columns: dict[str, str] = field(default_factory=dict)
    tolerance_s: float = 0.0
    no_answer: bool = False
    time_columns: str = ""
    line_times: list[pd.Timestamp | None] = field(default_factory=list)


@dataclass
class Table:
    """A table before it is written: headings, rows of cells, the time of each row.

    ``above`` and ``below`` are rows over and under the headings; ``headless`` tells that neither
    is written, ``bare_commas`` that decimal commas stand between commas, unquoted.
    """

    heads: Cells
    rows: list[Cells]
    times: list[pd.Timestamp]
    above: list[Cells] = field(default_factory=list)
    temp_at: list[int] = field(default_factory=list)
    rh_at: list[int] = field(default_factory=list)
    time_at: list[int] = field(default_factory=list)
    below: list[str] = field(default_factory=list)
    headless: bool = False
    bare_commas: bool = False


@dataclass(frozen=True)
class Style:
    """How everything is written, drawn once for each file."""

    words: Words
    form: TimeForm
    temp_name: str
    rh_name: str
    temp_unit: str
    rh_unit: str
    unit_shape: str
    comma: bool
    missing: str
    zone: str

    def heading(self, name: str, unit: str) -> str:
        """Return a heading with its unit, or without where it is left to the reader."""
        return self.unit_shape.format(name, unit) if self.unit_shape else name

    def temp(self, value: float) -> str:
        """Return a temperature in °C as it is written."""
        scale, offset, digits = TEMP_UNITS[self.temp_unit]
        return self._number(value * scale + offset, digits)

    def temp_c(self, value: float) -> float:
        """Return what is written for a temperature, in °C."""
        scale, offset, digits = TEMP_UNITS[self.temp_unit]
        return (float(f"{value * scale + offset:.{digits}f}") - offset) / scale

    def rh(self, value: float) -> str:
        """Return a humidity in % as it is written."""
        scale, digits = RH_UNITS[self.rh_unit]
        return self._number(value * scale, digits)

    def _number(self, value: float, digits: int) -> str:
        if np.isnan(value):
            return self.missing
        return f"{value:.{digits}f}".replace(".", "," if self.comma else ".")


def pick(rng: Rng, options: Sequence[object]) -> object:
    """Return one of some options."""
    return options[int(rng.integers(len(options)))]


def chance(rng: Rng, share: float) -> bool:
    """Return whether something happens."""
    return bool(rng.random() < share)


def series(rng: Rng, index: pd.DatetimeIndex) -> pd.DataFrame:
    """Return the air of a room: a slow drift, a day, and a little noise; some readings missing."""
    hours = (index.as_unit("s").asi8 - index.as_unit("s").asi8[0]) / 3600.0
    day = np.sin(2 * np.pi * (hours - rng.uniform(0, 24)) / 24.0)
    walk = np.cumsum(rng.normal(0, 0.15, len(index))) * np.sqrt(max(hours[1], 0.1))
    temp = rng.uniform(16, 24) + rng.uniform(0.4, 2.0) * day + 0.2 * np.tanh(walk)
    temp += rng.normal(0, 0.05, len(index))
    rh = rng.uniform(40, 60) - rng.uniform(1.0, 5.0) * day + 3.0 * np.tanh(walk / 3)
    rh += rng.normal(0, 0.2, len(index))
    frame = pd.DataFrame({"temp_c": temp.round(1), "rh_pct": rh.round(1)}, index=index)
    if chance(rng, 0.3):
        gone = rng.integers(2, len(index) - 2, max(1, len(index) // 40))
        frame.iloc[np.unique(gone), int(rng.integers(2))] = np.nan
    return frame


def style(rng: Rng) -> Style:
    """Return how a file is written."""
    words = pick(rng, LANGUAGES)
    assert isinstance(words, Words)
    shape = str(pick(rng, UNIT_SHAPES)) if chance(rng, 0.75) else ""
    temp_unit = str(rng.choice(list(TEMP_UNITS), p=[0.7, 0.2, 0.1]))
    form = pick(rng, TIME_FORMS)
    assert isinstance(form, TimeForm)
    return Style(
        words=words,
        form=form,
        temp_name=str(pick(rng, words.temp)),
        rh_name=str(pick(rng, words.rh)),
        temp_unit=temp_unit if temp_unit != "K" or shape else "°C",
        rh_unit=str(rng.choice(list(RH_UNITS), p=[0.85, 0.15])),
        unit_shape=shape,
        comma=chance(rng, 0.4),
        missing=str(pick(rng, MISSING)),
        zone=str(pick(rng, form.zones)),
    )


Beside = tuple[str, Callable[[Rng, pd.DataFrame], Cells]]


def _dew_point(rng: Rng, frame: pd.DataFrame) -> Cells:
    """Magnus form of WMO-No. 8, annex 4.B, as the other column of a logger would hold it."""
    ratio = np.log(frame["rh_pct"] / 100) + 17.62 * frame["temp_c"] / (243.12 + frame["temp_c"])
    return _texts(243.12 * ratio / (17.62 - ratio), 1)


def _texts(values: Sequence[float] | pd.Series, digits: int) -> Cells:
    return ["" if np.isnan(value) else f"{value:.{digits}f}" for value in values]


# Columns that stand beside the readings and are none, some with words that mislead.
BESIDE: tuple[Beside, ...] = (
    ("No.", lambda rng, frame: [str(n + 1) for n in range(len(frame))]),
    ("Battery (V)", lambda rng, frame: _texts(np.linspace(3.6, 3.1, len(frame)).tolist(), 2)),
    ("Dew point (°C)", _dew_point),
    (
        "Pressure (hPa)",
        lambda rng, frame: _texts((1013 + rng.normal(0, 2, len(frame))).tolist(), 1),
    ),
    ("CO2 (ppm)", lambda rng, frame: [str(v) for v in rng.integers(400, 900, len(frame))]),
    (
        "Rain per hour (mm)",
        lambda rng, frame: _texts(rng.choice([0, 0.4, 10], len(frame)).tolist(), 1),
    ),
    ("Sampling time (min)", lambda rng, frame: ["10"] * len(frame)),
    ("Running time (h)", lambda rng, frame: [str(n // 4) for n in range(len(frame))]),
    ("Battery time left (h)", lambda rng, frame: [str(900 - n // 6) for n in range(len(frame))]),
    ("Maximum in the hour before (°C)", lambda rng, frame: _texts(frame["temp_c"] + 0.4, 1)),
    ("Light (lx)", lambda rng, frame: [str(v) for v in rng.integers(0, 180, len(frame))]),
    ("Remark", lambda rng, frame: [str(v) for v in rng.choice(["", "", "opened"], len(frame))]),
)


def one_sensor(rng: Rng, how: Style, frames: dict[str, pd.DataFrame]) -> Table:
    """Return a table of one line a time: time, temperature, humidity, and what stands beside."""
    (frame,) = frames.values()
    pairs = [
        (how.heading(how.temp_name, how.temp_unit), [how.temp(v) for v in frame["temp_c"]], "t"),
        (how.heading(how.rh_name, how.rh_unit), [how.rh(v) for v in frame["rh_pct"]], "h"),
    ]
    if chance(rng, 0.3):
        pairs.reverse()
    order = rng.permutation(len(BESIDE))[: int(rng.integers(0, 4))]
    beside = [(BESIDE[i][0], BESIDE[i][1](rng, frame), "") for i in order]
    mark = "," if how.comma else "."
    beside = [(head, [c.replace(".", mark) for c in cells], "") for head, cells, _ in beside]
    cut = int(rng.integers(len(beside) + 1))
    times = _times(how, frame)
    columns = [*times, *beside[:cut], *pairs, *beside[cut:]]
    if chance(rng, 0.15):
        columns = [*columns[len(times) :], *times]
    return _of_columns(columns, list(frame.index))


def wide(rng: Rng, how: Style, frames: dict[str, pd.DataFrame]) -> Table:
    """Return a table of several sensors side by side, a pair of columns each."""
    first = next(iter(frames.values()))
    times = _times(how, first)
    columns = list(times)
    over = chance(rng, 0.3)
    for name, frame in frames.items():
        before = "" if over else f"{name} "
        temp = how.heading(f"{before}{how.temp_name}", how.temp_unit)
        rh = how.heading(f"{before}{how.rh_name}", how.rh_unit)
        columns.append((temp, [how.temp(v) for v in frame["temp_c"]], "t"))
        columns.append((rh, [how.rh(v) for v in frame["rh_pct"]], "h"))
    table = _of_columns(columns, list(first.index))
    if over:
        table.above = [[""] * len(times) + [cell for name in frames for cell in (name, "")]]
    return table


def long_file(rng: Rng, how: Style, frames: dict[str, pd.DataFrame]) -> Table:
    """Return a table of one line a sensor and time."""
    parts = [frame.assign(sensor=name) for name, frame in frames.items()]
    whole = pd.concat(parts).sort_index(kind="stable") if chance(rng, 0.7) else pd.concat(parts)
    times = _times(how, whole)
    sensor = [(how.words.sensor, whole["sensor"].astype(str).tolist(), "")]
    pair = [
        (how.heading(how.temp_name, how.temp_unit), [how.temp(v) for v in whole["temp_c"]], "t"),
        (how.heading(how.rh_name, how.rh_unit), [how.rh(v) for v in whole["rh_pct"]], "h"),
    ]
    return _of_columns([*times, *sensor, *pair], list(whole.index))


def tall(rng: Rng, how: Style, frames: dict[str, pd.DataFrame]) -> Table:
    """Return a table of one line a quantity and time, its unit beside it."""
    (frame,) = frames.values()
    doubled = frame.loc[frame.index.repeat(2)]
    times = _times(how, doubled)
    names = [how.temp_name, how.rh_name] * len(frame)
    values = [c for t, h in zip(frame["temp_c"], frame["rh_pct"], strict=True)
              for c in (how.temp(t), how.rh(h))]  # fmt: skip
    columns = [*times, ("Quantity", names, ""), ("Value", values, "")]
    if chance(rng, 0.7) or how.temp_unit != "°C" or how.rh_unit != "%":
        columns.append(("Unit", [how.temp_unit, how.rh_unit] * len(frame), ""))
    return _of_columns(columns, list(doubled.index))


def _of_columns(columns: Sequence[tuple[str, Cells, str]], times: list[pd.Timestamp]) -> Table:
    rows = [list(row) for row in zip(*(cells for _, cells, _ in columns), strict=True)]
    at = {kind: [i for i, c in enumerate(columns) if c[2] == kind] for kind in ("t", "h", "time")}
    return Table([c[0] for c in columns], rows, times, [], at["t"], at["h"], at["time"])


def _times(how: Style, frame: pd.DataFrame) -> list[tuple[str, Cells, str]]:
    local = pd.DatetimeIndex(frame.index).tz_convert(how.form.clock(how.zone))
    return [(head, cells, "time") for head, cells in how.form.columns(how.words, local)]


LAYOUTS = {"one sensor": one_sensor, "wide": wide, "long": long_file, "tall": tall}

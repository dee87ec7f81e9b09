"""Whatever dialect readings are written in, the same come back; and nothing ever crashes."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from hypothesis import example, given, settings, strategies as st

from analysis.errors import StilltautError
from service.errors import QuestionError
from service.ingest.read import FileReading, read_bytes

DATES = ["%Y-%m-%d", "%d.%m.%Y", "%d/%m/%Y", "%m/%d/%Y", "%Y/%m/%d", "%Y%m%d", "%d %b %Y"]
CLOCKS = ["%H:%M:%S", "%H:%M", "%I:%M:%S %p"]
HEADINGS = [
    ("Temperature (°C)", "RH (%)"),
    ("Temp", "Feuchte"),
    ("Lämpötila", "Kosteus"),
    ("T", "UR"),
]


@dataclass(frozen=True)
class Dialect:
    """A way of writing a table down."""

    delimiter: str
    comma: bool
    date: str
    clock: str
    two_columns: bool
    names: tuple[str, str]
    preamble: int
    trailing: bool
    quoted: bool
    newest_first: bool
    line_end: str
    encoding: str
    missing: str

    def write(self, frame: pd.DataFrame) -> bytes:
        """Return the frame in this dialect."""
        times = ["Date", "Time"] if self.two_columns else ["Time"]
        lines = [f"Line {n} of a preamble" for n in range(self.preamble)]
        lines.append(self._line([*times, *self.names]))
        rows = [
            self._line([*self._stamp(time), self._number(temp), self._number(rh)])
            for time, temp, rh in zip(frame.index, frame["temp_c"], frame["rh_pct"], strict=True)
        ]
        lines += rows[::-1] if self.newest_first else rows
        return self.line_end.join([*lines, ""]).encode(self.encoding)

    def _stamp(self, time: pd.Timestamp) -> list[str]:
        parts = [time.strftime(self.date), time.strftime(self.clock)]
        return parts if self.two_columns else [" ".join(parts)]

    def _number(self, value: float) -> str:
        if np.isnan(value):
            return self.missing
        return f"{value:.2f}".replace(".", "," if self.comma else ".")

    def _line(self, cells: list[str]) -> str:
        quoted = [f'"{cell}"' for cell in cells] if self.quoted else cells
        return self.delimiter.join(quoted) + self.delimiter * self.trailing


@st.composite
def dialects(draw: st.DrawFn) -> Dialect:
    delimiter = draw(st.sampled_from([",", ";", "\t", "|"]))
    quoted = draw(st.booleans())
    return Dialect(
        delimiter=delimiter,
        comma=draw(st.booleans()) if delimiter != "," or quoted else False,
        date=draw(st.sampled_from(DATES)),
        clock=draw(st.sampled_from(CLOCKS)),
        two_columns=draw(st.booleans()),
        names=draw(st.sampled_from(HEADINGS)),
        preamble=draw(st.integers(0, 4)),
        trailing=draw(st.booleans()),
        quoted=quoted,
        newest_first=draw(st.booleans()),
        line_end=draw(st.sampled_from(["\n", "\r\n"])),
        encoding=draw(st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "cp1252"])),
        missing=draw(st.sampled_from(["", "---", "N/A", "-9999"])),
    )


@st.composite
def frames(draw: st.DrawFn) -> pd.DataFrame:
    count = draw(st.integers(3, 40))
    # The first stamp is on the 13th or later, so that every column decides day and month.
    first = pd.Timestamp(2020, draw(st.integers(1, 12)), draw(st.integers(13, 28)), tz="UTC")
    step = draw(st.sampled_from(["1min", "10min", "1h"]))
    # Warmer or always above 32 and they might be degrees Fahrenheit, which is asked about.
    hundredths = st.integers(-2000, 3499)
    temp = np.array(draw(st.lists(hundredths, min_size=count, max_size=count))) / 100
    rh = np.array(draw(st.lists(st.integers(3500, 9999), min_size=count, max_size=count))) / 100
    gaps = draw(st.sets(st.integers(1, count - 1), max_size=count // 3))
    temp[list(gaps)] = np.nan
    index = pd.date_range(first, periods=count, freq=step)
    return pd.DataFrame({"temp_c": temp, "rh_pct": rh}, index=index)


PLAIN = Dialect(",", False, DATES[0], CLOCKS[0], False, HEADINGS[0], 0, False, False, False, "\n",
                "utf-8", "")  # fmt: skip
LEAPS = pd.DataFrame(
    {"temp_c": [0.0, 0.0, 0.0, 15.0, 15.0, 0.01], "rh_pct": 35.0},
    index=pd.date_range("2020-01-13", periods=6, freq="1min", tz="UTC"),
)


def read_or_answered(data: bytes) -> FileReading:
    """Read a file; where a temperature that leaps is asked about, say that it is right."""
    try:
        return read_bytes("dialect.csv", data, zone="UTC")
    except QuestionError as question:
        stated = question.answers[0].columns
        assert set(stated) == {"sure"}
        return read_bytes("dialect.csv", data, zone="UTC", columns=stated)


@settings(max_examples=120, deadline=None)
@given(frames(), dialects())
@example(LEAPS, PLAIN)
def test_readings_come_back_from_every_dialect(frame: pd.DataFrame, dialect: Dialect) -> None:
    found = read_or_answered(dialect.write(frame))
    read = found.sensors[""]
    assert (read.index == frame.index).all()
    np.testing.assert_array_equal(read["temp_c"], frame["temp_c"])
    np.testing.assert_array_equal(read["rh_pct"], frame["rh_pct"])
    assert found.understanding.rows.readings == len(frame)
    assert not found.understanding.problems


def attempt(data: bytes) -> FileReading | None:
    """Return a reading, or None where it was refused in the proper way."""
    try:
        return read_bytes("fuzz.csv", data, zone="UTC")
    except StilltautError:
        return None


ROWS = "".join(
    f"2024-01-{13 + i // 24:02d} {i % 24:02d}:00;{20 + i % 7},5;4{i % 9}\n" for i in range(60)
)
GOOD = b"Logger;North\n\nTime;Temp;RH\n" + ROWS.encode()


@settings(max_examples=150, deadline=None)
@given(st.binary(max_size=400))
def test_any_bytes_are_read_or_refused(data: bytes) -> None:
    attempt(data)


@settings(max_examples=150, deadline=None)
@given(st.text(alphabet='0123456789.,;:-/ \t\n"ATRHC%°|', max_size=300))
def test_any_text_is_read_or_refused(text: str) -> None:
    attempt(text.encode())


@settings(max_examples=150, deadline=None)
@given(
    st.lists(
        st.tuples(st.integers(0, len(GOOD) - 1), st.binary(max_size=6)), min_size=1, max_size=8
    )
)
def test_a_damaged_file_is_read_or_refused_and_good_lines_survive(
    changes: list[tuple[int, bytes]],
) -> None:
    data = GOOD
    for place, piece in changes:
        data = data[:place] + piece + data[place + len(piece) :]
    found = attempt(data)
    if found is not None:
        assert sum(map(len, found.sensors.values())) >= 30
        assert found.understanding.rows.total >= found.understanding.rows.readings

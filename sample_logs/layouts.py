"""The layouts in which exports arrive: each function writes readings as one invented logger would.

All take readings with a UTC index and the columns ``temp_c`` and ``rh_pct`` (NaN: no reading) and
the clock they are written in, and return the bytes of the file.
"""

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime, timedelta, timezone, tzinfo
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

CRLF = "\r\n"


def clock(zone: str) -> tzinfo:
    """Return the clock of a zone name or of an offset such as ``+01:00``."""
    if zone[0] in "+-":
        hours, minutes = int(zone[1:3]), int(zone[4:6])
        offset = timedelta(hours=hours, minutes=minutes)
        return timezone(offset if zone[0] == "+" else -offset)
    return ZoneInfo(zone)


def stamps(frame: pd.DataFrame, zone: str, pattern: str) -> list[str]:
    """Return the times as the logger's own clock shows them."""
    return [time.strftime(pattern) for time in shown(frame, zone)]


def shown(frame: pd.DataFrame, zone: str) -> Sequence[datetime]:
    """Return the times in the logger's own clock."""
    local = pd.DatetimeIndex(frame.index).tz_convert(clock(zone))
    return [time.to_pydatetime() for time in local]


def numbers(values: pd.Series, digits: int, missing: str = "", comma: bool = False) -> list[str]:
    """Return the values as text, rounded to ``digits``."""
    texts = [missing if np.isnan(v) else f"{v:.{digits}f}" for v in values.to_numpy().tolist()]
    return [text.replace(".", ",") for text in texts] if comma else texts


def rows(separator: str, *columns: Sequence[str], trail: str = "") -> Iterable[str]:
    """Return one line a reading."""
    return (separator.join(cells) + trail for cells in zip(*columns, strict=True))


def text_file(lines: Iterable[str], end: str = "\n", encoding: str = "utf-8") -> bytes:
    """Return lines as the bytes of a file."""
    return (end.join(lines) + end).encode(encoding)


def comma_iso(frame: pd.DataFrame, zone: str) -> bytes:
    """Write comma, ISO times, a byte order mark, plain headings."""
    times = stamps(frame, zone, "%Y-%m-%d %H:%M:%S")
    body = rows(",", times, numbers(frame["temp_c"], 2), numbers(frame["rh_pct"], 1))
    head = "Date/Time,Temperature (°C),Relative humidity (%)"
    return text_file([head, *body], CRLF, "utf-8-sig")


def semicolon_german(frame: pd.DataFrame, zone: str) -> bytes:
    """Write a preamble, semicolons, decimal commas, day first, in cp1252."""
    times = stamps(frame, zone, "%d.%m.%Y %H:%M:%S")
    temp, rh = (numbers(frame[c], 1, comma=True) for c in ("temp_c", "rh_pct"))
    head = [
        "Messprotokoll",
        "Gerät:;Raumklima 2",
        "Ort:;Nordsaal, Südwand",
        f"Anzahl Messwerte:;{len(frame)}",
        "Bemerkung:;Größe des Speichers 32 000 Werte",
        "",
        "Datum/Uhrzeit;Temperatur [°C];rel. Feuchte [%]",
    ]
    return text_file([*head, *rows(";", times, temp, rh)], CRLF, "cp1252")


def tab_french(frame: pd.DataFrame, zone: str) -> bytes:
    """Write tabs, decimal commas and French headings in UTF-16 with its byte order mark."""
    times = stamps(frame, zone, "%d/%m/%Y %H:%M")
    temp, rh = (numbers(frame[c], 1, comma=True) for c in ("temp_c", "rh_pct"))
    head = ["Horodatage\tTempérature (°C)\tHumidité relative (%)"]
    return text_file([*head, *rows("\t", times, temp, rh)], CRLF, "utf-16")


def readings_before_times(frame: pd.DataFrame, zone: str) -> bytes:
    """Write °F and humidity first, then the date, month first, and a 12-hour clock."""
    times = list(shown(frame, zone))
    days = [f"{t.month}/{t.day}/{t.year}" for t in times]
    clocks = [
        f"{(t.hour + 11) % 12 + 1}:{t.minute:02} {'am' if t.hour < 12 else 'pm'}" for t in times
    ]
    fahrenheit = numbers(frame["temp_c"] * 1.8 + 32.0, 1)
    head = ["Cabinet in the East Room", "Air temperature in °F,Air humidity in %,Date,Clock"]
    return text_file([*head, *rows(",", fahrenheit, numbers(frame["rh_pct"], 1), days, clocks)])


def date_and_clock_apart(frame: pd.DataFrame, zone: str) -> bytes:
    """Write date and clock apart, semicolons, the humidity between them and the temperature."""
    days = stamps(frame, zone, "%d.%m.%Y")
    clocks = stamps(frame, zone, "%H:%M")
    temp, rh = (numbers(frame[c], 1) for c in ("temp_c", "rh_pct"))
    body = list(rows(";", days, clocks, rh, temp))
    # One line was cut short when the cable was pulled.
    body[1234] = body[1234][:-8]
    head = ["Date;Clock;Humidity of the air in %;Temperature of the air in °C"]
    return text_file([*head, *body], CRLF, "cp1252")


def newest_first(frame: pd.DataFrame, zone: str) -> bytes:
    """Write the newest reading first, day first, ``---`` where none came."""
    back = frame[::-1]
    times = stamps(back, zone, "%d/%m/%Y %H:%M")
    temp, rh = (numbers(back[c], 1, "---") for c in ("temp_c", "rh_pct"))
    head = ["Reading taken,RH %,Temp C"]
    return text_file([*head, *rows(",", times, rh, temp)])


def wide(sensors: Mapping[str, pd.DataFrame], zone: str) -> bytes:
    """Write several sensors side by side, one line a time."""
    names = list(sensors)
    first = sensors[names[0]]
    columns = [stamps(first, zone, "%Y-%m-%dT%H:%M")]
    heads = ["Time"]
    for name in names:
        frame = sensors[name].reindex(first.index)
        columns += [numbers(frame["temp_c"], 1), numbers(frame["rh_pct"], 1)]
        heads += [f"{name} T [°C]", f"{name} RH [%]"]
    return text_file([",".join(heads), *rows(",", *columns)])


def long_with_sensor(sensors: Mapping[str, pd.DataFrame], zone: str) -> bytes:
    """Write several sensors beneath each other, each line naming its sensor."""
    parts = []
    for name, frame in sensors.items():
        part = frame.assign(stamp=stamps(frame, zone, "%Y-%m-%d %H:%M"), sensor=name)
        parts.append(part)
    whole = pd.concat(parts).sort_index(kind="stable")
    stamp, sensor = whole["stamp"].tolist(), whole["sensor"].tolist()
    temp, rh = numbers(whole["temp_c"], 1), numbers(whole["rh_pct"], 1)
    return text_file(
        ["timestamp|sensor|temperature_C|humidity_pct", *rows("|", stamp, sensor, temp, rh)]
    )


def one_quantity(frame: pd.DataFrame, zone: str, column: str) -> bytes:
    """Write only temperature or only humidity, blanks between the columns."""
    times = stamps(frame, zone, "%Y-%m-%d %H:%M:%S")
    name = {"temp_c": "Temperature_degC", "rh_pct": "Humidity_%RH"}[column]
    return text_file([f"Date       Time     {name}", *rows("  ", times, numbers(frame[column], 2))])


def epoch_fraction(frame: pd.DataFrame, zone: str) -> bytes:
    """Write seconds since 1970 and humidity as a fraction; ``zone`` does not matter."""
    times = [str(second) for second in pd.DatetimeIndex(frame.index).as_unit("s").asi8.tolist()]
    rh = numbers(frame["rh_pct"] / 100.0, 3)
    return text_file(
        ["epoch_s,air_temp_c,rel_hum", *rows(",", times, numbers(frame["temp_c"], 1), rh)]
    )


def offset_in_heading(frame: pd.DataFrame, zone: str) -> bytes:
    """Write the clock's offset from UTC in the heading of the time column."""
    times = stamps(frame, zone, "%Y/%m/%d %H:%M")
    temp, rh = numbers(frame["temp_c"], 1), numbers(frame["rh_pct"], 1)
    head = f"Read at (UTC{zone});Air temperature °C;Air humidity %"
    return text_file([head, *rows(";", times, temp, rh)], CRLF)


def with_battery(frame: pd.DataFrame, zone: str) -> bytes:
    """Write the voltage of a running-down battery before the readings, ``N/A`` for none."""
    times = stamps(frame, zone, "%d-%m-%Y %H:%M:%S")
    volts = numbers(pd.Series(np.linspace(3.64, 2.71, len(frame))), 2)
    temp, rh = (numbers(frame[c], 1, "N/A") for c in ("temp_c", "rh_pct"))
    head = ["Tower stair, second logger", "Read at,Battery (V),Temperature (°C),Humidity (%RH)"]
    return text_file([*head, *rows(",", times, volts, temp, rh)])

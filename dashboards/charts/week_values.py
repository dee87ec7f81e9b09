"""What can be read along a week, along a work's hours and along the days to come."""

from collections.abc import Callable, Mapping
from dataclasses import replace

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.forecast.room_ahead import RoomAhead
from analysis.results import Floats, History, Range, RoomWeek, State
from dashboards.charts.readout import AIR, Coded, Line, coded, coded_times
from dashboards.charts.time_axis import Days, fit_values, gaps
from dashboards.text import wording
from dashboards.text.messages import N_, _, translated
from dashboards.text.refusal_text import hour_refused
from dashboards.text.spare_text import spare_figure

OF_A_WORK = N_(
    "{day}, {clock}: print {print}, frame {frame}; slack: {slack}, waves: {waves}, spare: {spare}."
)
MOST = 1344  # readings told of a week: one every seven and a half minutes


def week_lines(week: RoomWeek, most: int = MOST) -> dict[str, Line]:
    """Return the lines of a room's week: its air, and each work that has hours in it.

    ``most`` is how many readings are told at most.
    """
    days = Days.of(week)
    lines = {AIR: air_line(week, days, most)}
    for judged in week.judgements:
        history = week.histories.get(judged.work_id)
        if judged.state is State.NOT_HELD_BY_TENSION or history is None:
            continue
        if history.time_utc.size:
            lines[judged.work_id] = work_line(judged.title, history, days)
    return lines


def air_line(week: RoomWeek, days: Days, most: int = MOST) -> Line:
    """Return the readings of a room, with hours in which nothing was measured said as such."""
    frame = _with_gaps(_thinned(week.readings, most), week, days)
    fit = np.isfinite(fit_values(frame, "rh_pct"))
    measured = frame[["rh_pct", "temp_c"]].notna().any(axis=1).tolist()
    says = {
        True: translated(N_("{day}, {clock}: room air {rh}, {temp}, dew point {dew}.")),
        False: translated(N_("{day}, {clock}: not measured.")),
    }
    return Line(
        say=coded(measured, says),
        places_h=days.along(frame.index),
        length_h=days.length_h,
        words={
            **coded_times(frame.index, week.zone),
            "rh": _measured(frame["rh_pct"].to_numpy(float), "%RH", 0, fit),
            "temp": _measured(frame["temp_c"].to_numpy(float), "°C", 1),
            "dew": _measured(frame["dew_point_c"].to_numpy(float), "°C", 1),
        },
    )


def _thinned(frame: pd.DataFrame, most: int) -> pd.DataFrame:
    """Return readings, of very many in each stretch the one farthest from the week's middle."""
    if len(frame) <= most:
        return frame
    far = (frame["rh_pct"] - frame["rh_pct"].median()).abs().fillna(-1.0).to_numpy()
    stretch = np.arange(len(frame)) * most // len(frame)
    chosen = pd.Series(far).groupby(stretch).idxmax().to_numpy()
    return frame.iloc[chosen]


def _with_gaps(frame: pd.DataFrame, week: RoomWeek, days: Days) -> pd.DataFrame:
    hours = [at for ends in gaps(week.readings, days) for at in _hours_within(*ends)]
    if not hours:
        return frame
    missing = pd.DatetimeIndex([week.start_utc + pd.Timedelta(hours=at) for at in hours])
    whole = pd.concat([frame, pd.DataFrame(index=missing, columns=frame.columns)])
    whole["flags"] = whole["flags"].fillna(0).astype(int)
    return whole[~whole.index.duplicated()].sort_index()


def _hours_within(first: float, last: float) -> list[float]:
    """Return the full hours inside a stretch, or its middle where there is none."""
    full = np.arange(np.floor(first) + 1.0, last, 1.0).tolist()
    return full or [(first + last) / 2]


def _measured(
    values: Floats, unit: str, decimals: int, fit: npt.NDArray[np.bool_] | None = None
) -> Coded:
    """Return readings in words; one that carries a doubt says so."""
    rounded = np.round(values.astype(float), decimals)
    sure = np.ones(rounded.size, dtype=bool) if fit is None else fit
    keys = [
        (None if np.isnan(value) else value, bool(well))
        for value, well in zip(rounded.tolist(), sure.tolist(), strict=True)
    ]
    return coded(keys, {key: _reading(*key, unit, decimals) for key in set(keys)})


def _reading(value: float | None, fit: bool, unit: str, decimals: int) -> str:
    if value is None:
        return _("not measured")
    said = wording.with_unit(value, unit, decimals)
    return said if fit else _("{value} (in doubt)", value=said)


def work_line(title: str, history: History, days: Days) -> Line:
    """Return a work's hours: how probably it is slack and shows waves, and what it has to spare."""
    said = translated(N_("{day}, {clock}: {name}: slack: {slack}, waves: {waves}, spare: {spare}."))
    return _hours(title, history, days, said)


def history_line(title: str, history: History, days: Days) -> Line:
    """Return the hours of a work's own picture: frame and print, and what its strip says."""
    said = translated(OF_A_WORK)
    line = _hours(title, history, days, said)
    sides = {"print": history.print_rh_pct, "frame": history.frame_rh_pct}
    reach = {name: _ranges(values, _in_words) for name, values in sides.items()}
    return replace(line, words={**line.words, **reach})


def _hours(title: str, history: History, days: Days, said: str) -> Line:
    """Return the hours of a work that can be known; one of which nothing is told says why."""
    places = days.along(history.time_utc)
    told = (history.refused == "") & np.isfinite(history.p_slack) & (places <= days.known_h)
    keys = np.where(told, "", np.where(history.refused == "", "untold", history.refused))
    says = {str(key): _untold(str(key)) if key else said for key in set(keys.tolist())}
    return Line(
        say=coded(keys.tolist(), says),
        places_h=places,
        length_h=days.length_h,
        name=title,
        words={
            **coded_times(history.time_utc, days.zone),
            "slack": _chances(history.p_slack),
            "waves": _chances(history.p_visible),
            "spare": _ranges(history.headroom_up_pct, spare_figure),
        },
    )


def _untold(key: str) -> str:
    why = hour_refused(key)
    if not why:
        return translated(N_("{day}, {clock}: {name}: nothing can be told."))
    return translated(N_("{day}, {clock}: {name}: nothing can be told, {why}.")).replace(
        "{why}", why
    )


def _chances(chance: Floats) -> Coded:
    values = np.round(np.nan_to_num(chance, nan=-1.0), 3).tolist()  # -1: told of in no sentence
    words = {one: wording.likely_with_figure(one) if one >= 0.0 else "" for one in set(values)}
    return coded(values, words)


def _ranges(ranges: Floats, worded: Callable[[Range], str]) -> Coded:
    rows = [tuple(row) for row in np.round(np.nan_to_num(ranges, nan=-1e6)).tolist()]
    return coded(rows, {row: worded(Range(*row)) if min(row) > -1e6 else "" for row in set(rows)})


def _in_words(found: Range) -> str:
    return wording.range_words(found, "%RH")


def ahead_line(ahead: RoomAhead, usual: RoomAhead, zone: str) -> Mapping[str, Line]:
    """Return the hours to come of a room: the middle and the ribbon, and as it is run now."""
    ranges = np.column_stack([ahead.rh_low_pct, ahead.rh_pct, ahead.rh_high_pct])
    warmth = np.round(np.column_stack([ahead.temp_low_c, ahead.temp_high_c])).tolist()
    spans = [wording.span(low, high, "°C") for low, high in warmth]
    words = {
        **coded_times(ahead.time_utc, zone),
        "rh": _ranges(ranges, _in_words),
        "temp": coded(spans, {one: one for one in spans}),
    }
    say = translated(N_("{day}, {clock}: about {rh}, {temp}."))
    if ahead is not usual:
        words["usual"] = _measured(usual.rh_pct, "%RH", 0)
        say = translated(N_("{day}, {clock}: about {rh}, {temp}; as it is run now {usual}."))
    places = np.arange(ahead.hours, dtype=float)
    line = Line(say=([say], []), places_h=places, length_h=float(places[-1]), words=words)
    return {AIR: line}

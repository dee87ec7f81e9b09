"""Temperature that leaps to another level between two readings and stays there: asked about."""

import numpy as np
import pandas as pd

from service.errors import Answer, QuestionError
from service.ingest.evidence import limit
from service.ingest.table import Floats


def require_one_level(name: str, air: pd.DataFrame, heading: str) -> None:
    """Raise if a sensor's temperature leaps between two readings and stays where it came to.

    A unit set anew in mid-file does so, columns that change places, a logger carried elsewhere.
    Outdoors humidity does so by itself.

    Parameters
    ----------
    name : str
        The file's name, for messages.
    air : pandas.DataFrame
        Readings of one sensor, in the shape of `analysis.series.readings_frame`.
    heading : str
        The column of its temperature.

    Raises
    ------
    QuestionError
        With the time of the leap, and the levels before and after it.
    """
    values = air["temp_c"].to_numpy()
    # A sensor that fails writes noughts; they are flagged where they are judged.
    good = np.isfinite(values) & (air["rh_pct"].to_numpy() != 0)
    rows = slice(None) if good.all() else np.flatnonzero(good)
    row = _leap(values[rows], pd.DatetimeIndex(air.index[rows]), limit("level", "temp_k"))
    if row is not None:
        raise _two_levels(name, heading, air.iloc[rows], row)


def _leap(values: Floats, times: pd.DatetimeIndex, least: float) -> int | None:
    """Return the first row from which values lie at another level, or None."""
    some, few = int(limit("level", "rows")), int(limit("level", "rows_at_end"))
    longest = pd.Timedelta(hours=limit("level", "hours"))
    for row in (1 + np.flatnonzero(np.abs(np.diff(values)) >= least)).tolist():
        if times[row] - times[row - 1] > longest:
            continue
        before, after = values[max(0, row - some) : row], values[row : row + some]
        if min(len(before), len(after)) >= few:  # fewer than some only where the file ends
            apart = abs(float(np.median(after)) - float(np.median(before)))
            if apart >= least and max(np.ptp(before), np.ptp(after)) < least:
                return int(row)
    return None


def _two_levels(name: str, heading: str, air: pd.DataFrame, row: int) -> QuestionError:
    values, some = air["temp_c"].to_numpy(), int(limit("level", "rows"))
    before = np.median(values[max(0, row - some) : row])
    after = np.median(values[row : row + some])
    answers = (
        Answer(f"{heading!r} is right throughout: the logger was carried", {"sure": heading}),
        Answer(f"{heading!r} is left aside", {"aside": heading}),
    )
    return QuestionError(
        read=name,
        where=f"column {heading!r}",
        found=f"about {before:.0f} °C up to {air.index[row - 1]:%Y-%m-%d %H:%M} UTC, and "
        f"about {after:.0f} °C from the next reading on",
        expected="one place and one unit throughout; where a unit was set anew, or columns changed "
        "places, the file is cut there in a copy and each part given by itself",
        action=f"Say it: {answers[0].options()} or {answers[1].options()}.",
        answers=answers,
    )

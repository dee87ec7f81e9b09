"""Merging: the first value is kept, twice is once, and pandas agrees on the union."""

from datetime import UTC, datetime
from typing import Any

import hypothesis.extra.numpy as hnp
import hypothesis.strategies as st
import numpy as np
import pandas as pd
from hypothesis import given, settings

from analysis.series import Flag
from service.storage.months import CHANNELS, Rows, merge_rows

VALUES = st.sampled_from([float("nan"), 10.0, 20.0, 20.5])


@st.composite
def rows(draw: st.DrawFn, first: int = 0, last: int = 30) -> Rows:
    times = sorted(draw(st.sets(st.integers(first, last), max_size=20)))
    n = len(times)
    return Rows(
        np.array(times, "i8") * 60_000,
        draw(hnp.arrays("f8", n, elements=VALUES)),
        draw(hnp.arrays("f8", n, elements=VALUES)),
        draw(hnp.arrays("i4", n, elements=st.sampled_from([0, 2, 32]))),
    )


def frame(part: Rows) -> pd.DataFrame:
    return pd.DataFrame({c: getattr(part, c) for c in CHANNELS}, index=part.time_ms)


def equal(one: Rows, other: Rows) -> bool:
    return all(
        np.array_equal(getattr(one, name), getattr(other, name), equal_nan=name in CHANNELS)
        for name in ("time_ms", *CHANNELS, "flags")
    )


def make(times: list[int], temp: list[float], rh: list[float], flags: Any = 0) -> Rows:
    filled = np.broadcast_to(np.array(flags, "i4"), len(times)).copy()
    return Rows(np.array(times, "i8"), np.array(temp, float), np.array(rh, float), filled)


@given(rows(), rows())
def test_values_are_those_of_pandas_combine_first(kept: Rows, offered: Rows) -> None:
    joined, _ = merge_rows(kept, offered)
    expected = frame(kept).combine_first(frame(offered)).astype("f8")[list(CHANNELS)]
    pd.testing.assert_frame_equal(frame(joined), expected, check_index_type=False)
    assert joined.sorted_and_unique()


@given(rows(), rows())
def test_twice_is_once(kept: Rows, offered: Rows) -> None:
    once, _ = merge_rows(kept, offered)
    twice, report = merge_rows(once, offered)
    assert equal(once, twice)
    assert report.added == report.filled == 0
    assert not len(once) or twice is once or not len(offered) or twice is offered


@given(rows(0, 14), rows(15, 30))
def test_disjoint_parts_commute(early: Rows, late: Rows) -> None:
    assert equal(merge_rows(early, late)[0], merge_rows(late, early)[0])


@given(rows(), rows(), rows())
@settings(max_examples=50)
def test_what_is_added_is_counted_once(one: Rows, two: Rows, three: Rows) -> None:
    joined, _ = merge_rows(one, two)
    result, report = merge_rows(joined, three)
    assert len(result) == len(joined) + report.added
    touched = report.same + report.filled + report.conflict_count
    # A row may fill one channel and clash in the other.
    assert len(three) - report.added <= touched <= 2 * (len(three) - report.added)


@given(rows(), rows())
def test_every_clash_is_flagged_and_nothing_else_is(kept: Rows, offered: Rows) -> None:
    joined, report = merge_rows(kept, offered)
    both = frame(kept).add_suffix("_kept").join(frame(offered).add_suffix("_offered"), how="inner")
    clash = pd.Series(False, index=both.index)
    for channel in CHANNELS:
        ours, theirs = both[f"{channel}_kept"], both[f"{channel}_offered"]
        clash |= ours.notna() & theirs.notna() & (ours != theirs)
    flagged = joined.time_ms[(joined.flags & int(Flag.CONFLICT)) != 0]
    assert flagged.tolist() == both.index[clash].tolist()
    assert report.conflict_count == int(clash.sum())


def test_a_conflict_is_listed_with_both_values() -> None:
    first = make([0, 60_000], [20.0, 21.0], [50.0, 51.0])
    second = make([60_000], [25.0], [51.0])
    joined, report = merge_rows(first, second)
    (clash,) = report.conflicts
    assert clash.time_utc == datetime(1970, 1, 1, 0, 1, tzinfo=UTC)
    assert (clash.channel, clash.kept, clash.offered) == ("temp_c", 21.0, 25.0)
    assert joined.temp_c.tolist() == [20.0, 21.0]
    assert joined.flags.tolist() == [0, Flag.CONFLICT]
    assert (report.added, report.same, report.conflict_count) == (0, 0, 1)


def test_temperature_and_humidity_from_two_files_are_joined() -> None:
    nan = float("nan")
    joined, report = merge_rows(
        make([0, 60_000], [20.0, 21.0], [nan, nan]),
        make([0, 60_000, 120_000], [nan, nan, nan], [50.0, 51.0, 52.0]),
    )
    assert joined.rh_pct.tolist() == [50.0, 51.0, 52.0]
    assert joined.temp_c[:2].tolist() == [20.0, 21.0]
    assert (report.filled, report.added, report.conflict_count) == (2, 1, 0)
    assert not joined.flags.any()


def test_the_last_binary_digit_is_no_conflict() -> None:
    joined, report = merge_rows(make([0], [0.1 + 0.2], [50.0]), make([0], [0.3], [50.0]))
    assert report.same == 1
    assert report.conflict_count == 0
    assert joined.temp_c[0] == 0.1 + 0.2


def test_doubts_of_a_rejected_value_do_not_stain_the_kept_one() -> None:
    joined, _ = merge_rows(make([0], [20.0], [50.0]), make([0], [99.0], [50.0], Flag.OUT_OF_RANGE))
    assert joined.flags.tolist() == [Flag.CONFLICT]


def test_a_long_list_of_conflicts_is_counted_in_full_and_shown_in_part() -> None:
    times = list(range(0, 3_000_000, 1000))
    first = make(times, [20.0] * 3000, [50.0] * 3000)
    second = make(times, [21.0] * 3000, [50.0] * 3000)
    _, report = merge_rows(first, second)
    assert report.conflict_count == 3000
    assert len(report.conflicts) == 1000

"""Whatever the register holds: a life read at any time is the work as the register says then."""

from datetime import UTC, datetime, timedelta
from itertools import pairwise

from hypothesis import assume, given, settings, strategies as st

from analysis.records.inspection_records import Measured
from analysis.records.work_records import Framing, Hanging, Mounting, Print
from analysis.simulation.phases import framed_anew, mounted_anew, phases_at, require_phases
from analysis.works import FrameBuild, Wall
from service.estimates.hanging_history import life_until
from service.storage.works import WorkRecord, as_work, since

START = datetime(2026, 1, 1, tzinfo=UTC)
SHEET = Print("W-1", "Work", 1000.0, 800.0, "fibre base", "glossy")
hours = st.integers(0, 60 * 24).map(lambda hour: START + timedelta(hours=hour))
dates = st.none() | hours
levels = st.none() | st.sampled_from([40.0, 50.0])

mountings = st.builds(Mounting, st.just("W-1"), dates, mounted_rh_pct=levels)
framings = st.builds(
    Framing, st.just("W-1"), st.sampled_from([str(b) for b in FrameBuild]), dates, levels
)
hangings = st.builds(
    Hanging, st.just("W-1"), st.just("north"), dates, wall=st.sampled_from([str(w) for w in Wall])
)
values = st.builds(
    Measured,
    st.just("W-1"),
    st.sampled_from(["half_time_h", "prestrain", "beta_cd"]),
    st.just(2.0),
    st.just(1.0),
    st.just(3.0),
    st.just("measured"),
    dates,
    st.sampled_from(["", "a mistake"]),
)


def in_order(items: list) -> tuple:  # type: ignore[type-arg]
    """Return parts as the register gives them: by date, one of a date."""
    dated = {since(item): item for item in items}
    return tuple(dated[date] for date in sorted(dated, key=lambda d: d.timestamp() if d else -1e9))


records = st.builds(
    WorkRecord,
    st.just(SHEET),
    st.lists(mountings, max_size=3).map(in_order),
    st.lists(framings, max_size=3).map(in_order),
    st.lists(hangings, max_size=3).map(in_order),
    st.lists(values, max_size=3).map(in_order),
)


@settings(deadline=None)
@given(records, hours, hours)
def test_a_life_is_the_register_read_at_every_hour(
    record: WorkRecord, one: datetime, other: datetime
) -> None:
    then, now = sorted((one, other))
    work, earlier = life_until(record, now)
    require_phases(work, earlier)
    assert work == as_work(record, now)
    assert phases_at(work, earlier, then)[0] == as_work(record, then)
    assert all(phase.until_utc <= now for phase in earlier)


@settings(deadline=None)
@given(records, hours)
def test_each_phase_differs_from_the_next_and_numbers_never_fall(
    record: WorkRecord, now: datetime
) -> None:
    work, earlier = life_until(record, now)
    lives = [*(phase.work for phase in earlier), work]
    for before, after in pairwise(lives):
        assert before != after
        assert before.mounting_no <= after.mounting_no <= before.mounting_no + 1
        assert before.framing_no <= after.framing_no
        assert mounted_anew(before, after) == (after.mounting_no > before.mounting_no)
        assert framed_anew(before, after) >= (after.framing_no > before.framing_no)


@settings(deadline=None)
@given(records, hours)
def test_what_is_dated_later_changes_nothing_before(record: WorkRecord, now: datetime) -> None:
    def until(items: tuple) -> tuple:  # type: ignore[type-arg]
        begun = tuple(item for item in items if (since(item) or now) <= now)
        return begun or items[:1]

    known = WorkRecord(
        SHEET,
        until(record.mountings),
        until(record.framings),
        until(record.hangings),
        tuple(item for item in record.measured if (since(item) or now) <= now),
    )
    work, earlier = life_until(record, now)
    assume(work.closed_utc is None or work.closed_utc <= now)  # else its frame is being prepared
    assert life_until(known, now) == (work, earlier)

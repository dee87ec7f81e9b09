"""Where next to nothing is known, or what is known contradicts itself: finite, wide, and said."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pandas as pd
import pytest
from bench.calibration import START, room_year

from analysis.air.room_air import RoomAir, hourly_air
from analysis.answers.judgement import judge
from analysis.learning.class_knowledge import pooled
from analysis.learning.inspections import Inspection
from analysis.learning.posterior import learn, until
from analysis.results import History, Listing, Range
from analysis.series import readings_frame
from analysis.simulation.estimator import run
from analysis.simulation.pasts import pasts_of
from analysis.simulation.phases import DrawnPhase
from analysis.simulation.priors import DRAWN_KINDS, draw
from analysis.works import Finish, FrameBuild, Override, Paper, Work
from dashboards.text.judgement_text import mend, reason
from dashboards.text.wording import range_words

N = 60
AT = START + timedelta(days=100)
KNOWN = Work(
    "U1",
    "Pier",
    1500.0,
    1000.0,
    Paper.FIBRE_BASE,
    Finish.GLOSSY,
    mounted_utc=START - timedelta(days=90),
    mounted_rh_pct=48.0,
    closing_rh_pct=48.0,
    spacer_mm=8.0,
)
UNKNOWN = Work(
    "U1", "Pier", 1500.0, 1000.0, Paper.FIBRE_BASE, Finish.GLOSSY, unknown=frozenset(DRAWN_KINDS)
)
TOLD = ("print_rh_pct", "headroom_up_pct", "headroom_down_pct", "slope_mrad", "tension_n_m")


@pytest.fixture(scope="module")
def air() -> RoomAir:
    return until(room_year(), AT)


def told(work: Work, air: RoomAir) -> History:
    """Return the last days of a work's history."""
    found = run([work], {"U1": draw(work, N)}, air, detail_from=AT - timedelta(days=8),
                pasts=pasts_of(air))  # fmt: skip
    return found.histories["U1"]


def require_finite(history: History) -> None:
    for name in TOLD:
        low, mid, high = getattr(history, name)[-1]
        assert np.isfinite([low, mid, high]).all(), name
        assert low <= mid <= high, name
    assert 0.0 <= history.p_visible[-1] <= 1.0


def width(history: History, name: str) -> float:
    low, _, high = getattr(history, name)[-1]
    return float(high - low)


def test_a_work_of_which_nothing_is_known_is_told_and_widely(air: RoomAir) -> None:
    nothing, some = told(UNKNOWN, air), told(KNOWN, air)
    require_finite(nothing)
    for name in ("print_rh_pct", "slope_mrad"):
        assert width(nothing, name) > 1.4 * width(some, name)
    assert 0.1 < nothing.p_visible[-1] < 0.9
    assert nothing.unmeasured_years > 1.0
    judged = judge(UNKNOWN, nothing, air, at_utc=AT)
    words = reason(judged, "UTC")
    assert judged.listing is not Listing.LEAVE_BE
    assert "nan" not in words.lower()
    assert "inf" not in words.lower()


@pytest.mark.parametrize("work", [KNOWN, UNKNOWN], ids=["known", "unknown"])
def test_ten_looks_that_contradict_each_other_settle_nothing(work: Work, air: RoomAir) -> None:
    looks = [
        Inspection(START + timedelta(days=70 + 2 * i, hours=9), (0, 3)[i % 2]) for i in range(10)
    ]
    learned = learn([work], {"U1": looks}, air, N)["U1"]
    assert np.isfinite(learned.weights).all()
    assert learned.effective >= N / 4
    found = run([work], {"U1": learned.draws}, air, weights={"U1": learned.weights},
                detail_from=AT - timedelta(days=8), pasts=pasts_of(air))  # fmt: skip
    history = found.histories["U1"]
    require_finite(history)
    assert 0.02 < history.p_visible[-1] < 0.98
    assert width(history, "headroom_up_pct") > 5.0
    judged = judge(work, history, air, at_utc=AT, last_inspection=looks[-1])
    assert judged.listing is Listing.LOOK_FIRST
    assert "graded 3" in reason(judged, "UTC")
    # where nearly all draws stand at nought, that is said to the last digit shown, not as known
    low, mid, high = (float(one) for one in history.slope_mrad[-1])
    assert range_words(Range(low, mid, high), "mrad").endswith(")")


def test_a_room_read_by_hand_once_a_month_cannot_be_told_and_says_what_would_mend_it() -> None:
    times = pd.date_range(START, periods=6, freq="30D")
    readings = readings_frame(times, temp_c=20.0, rh_pct=np.arange(48.0, 54.0))
    end = times[-1].to_pydatetime()
    monthly = hourly_air(readings, start_utc=START, end_utc=end)
    found = run([KNOWN], {"U1": draw(KNOWN, N)}, monthly, pasts=pasts_of(monthly))
    judged = judge(KNOWN, found.histories["U1"], monthly, at_utc=end)
    assert judged.listing is Listing.CANNOT_TELL
    assert "more than three hours apart" in reason(judged, "UTC")
    assert "every hour" in mend(judged)


def test_a_class_of_one_lends_hardly_more_than_the_table() -> None:
    table = Range(4.0, 18.0, 81.0)
    lent = pooled(table, [Override(30.0, 27.0, 33.0, "a logger in the frame")])
    assert table.mid < lent.mid < 30.0
    assert np.log(lent.high / lent.low) > 0.85 * np.log(table.high / table.low)


def test_a_frame_opened_in_the_years_before_the_record_is_lived_through(air: RoomAir) -> None:
    opened = START - timedelta(days=400)
    mounted = START - timedelta(days=1200)
    before = replace(KNOWN, mounted_utc=mounted, closing_rh_pct=None)
    now = replace(before, framing_no=1, closed_utc=opened, frame=FrameBuild.D)
    earlier = [DrawnPhase(before, opened, draw(before, N))]
    found = run([now], {"U1": draw(now, N)}, air, detail_from=AT - timedelta(days=8),
                earlier={"U1": earlier}, pasts=pasts_of(air))  # fmt: skip
    history = found.histories["U1"]
    require_finite(history)
    assert history.unmeasured_years == pytest.approx(1200 / 365.25, abs=0.01)
    never = told(replace(now, framing_no=0), air)
    assert not np.array_equal(history.headroom_up_pct[-1], never.headroom_up_pct[-1])

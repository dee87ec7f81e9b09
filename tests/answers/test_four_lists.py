"""The four lists, their reasons, lead time."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from analysis.air.room_air import RoomAir
from analysis.answers.judgement import JudgementLimits, judge
from analysis.errors import NotEnoughError
from analysis.learning.inspections import Inspection
from analysis.results import Floats, History, LeadTime, Listing, State
from analysis.simulation import estimator
from analysis.simulation.estimator import Run
from analysis.simulation.lead_time import LeadTimeLimits, lead_time
from analysis.simulation.priors import Draws
from analysis.works import Mount, Work
from dashboards.text.judgement_text import chain_sentences, condition, mend, reason, slack_words
from dashboards.text.wording import percent

Knowing = Callable[..., tuple[Work, Draws]]
AirOf = Callable[..., RoomAir]

AT = datetime(2025, 1, 20, tzinfo=UTC)
STEPS = ["room", "frame", "print", "tension", "surface"]


def week_of(
    knowing: Knowing, air_of: AirOf, rh: float | Floats, **values: object
) -> tuple[Work, Draws, RoomAir, Run]:
    work, draws = knowing(**{"half_time_h": 1.0, **values})
    air = air_of(20.0, rh, 480, first=(50.0, 50.0)) if np.ndim(rh) == 0 else air_of(20.0, rh)
    found = estimator.run([work], {"W1": draws}, air)
    return work, draws, air, found


def test_leave_be(knowing: Knowing, air_of: AirOf) -> None:
    work, _, air, found = week_of(knowing, air_of, 50.0)
    judged = judge(work, found.histories["W1"], air, at_utc=AT)
    assert (judged.listing, judged.state) == (Listing.LEAVE_BE, State.TAUT)
    assert judged.headroom_up_pct is not None
    assert judged.headroom_up_pct.mid == pytest.approx(3.75, abs=0.05)
    assert condition(judged, "UTC").startswith(
        "The print is at 50 %RH, with 4 %RH to spare, steady; look again by 20 "
    )
    assert judged.look_again_utc == AT + timedelta(days=90)
    assert [name for name, _ in chain_sentences(judged, "UTC")] == STEPS
    assert reason(judged, "UTC") == (
        "The room is at 50 %RH and 20 °C, the frame at 50 %RH and the print at 50 %RH, as at "
        "mounting; 4 %RH to spare at the print before it goes slack (4); waves are unlikely to "
        "show (under 1 %)."
    )


def test_look_first_when_seen_now_or_this_week(knowing: Knowing, air_of: AirOf) -> None:
    work, _, air, found = week_of(knowing, air_of, 60.0)
    judged = judge(work, found.histories["W1"], air, at_utc=AT)
    assert (judged.listing, judged.state) == (Listing.LOOK_FIRST, State.SLACK)
    assert "10 %RH above its mounting; already 6 %RH past the point where it goes slack" in reason(
        judged, "UTC"
    )
    assert condition(judged, "UTC") == ""
    rh = np.full(480, 50.0)
    rh[380:400] = 62.0
    work, _, air, found = week_of(knowing, air_of, rh)
    judged = judge(work, found.histories["W1"], air, at_utc=AT)
    assert judged.p_visible_now == 0.0
    assert judged.listing is Listing.LOOK_FIRST
    assert reason(judged, "UTC").endswith(
        "Waves almost surely showed on Thursday evening (over 99 %); look for a ripple that stayed."
    )


def test_watch_between_a_tenth_and_a_half(knowing: Knowing, air_of: AirOf) -> None:
    prestrain = np.array([1e-4] * 2 + [8e-4] * 6)
    work, _, air, found = week_of(
        knowing, air_of, 53.0, prestrain=prestrain, hinge_capacity_n_m=3000.0
    )
    judged = judge(work, found.histories["W1"], air, at_utc=AT)
    assert judged.p_visible_now == pytest.approx(0.25)
    assert (judged.listing, judged.state) == (Listing.WATCH, State.EASING)


def test_watch_when_it_will_pass_one_half(knowing: Knowing, air_of: AirOf) -> None:
    work, _, air, found = week_of(knowing, air_of, 50.0)
    soon = LeadTime(if_room_stays_h=100.0, if_trend_goes_on_h=20.0, horizon_h=336.0)
    judged = judge(work, found.histories["W1"], air, at_utc=AT, lead_time=soon)
    assert judged.listing is Listing.WATCH
    strict = JudgementLimits(watch_days=2.0)
    judged = judge(work, found.histories["W1"], air, at_utc=AT, lead_time=soon, limits=strict)
    assert judged.listing is Listing.LEAVE_BE
    assert condition(judged, "UTC").endswith("sooner if the room goes on as now: in 20 h.")


def test_clearance_and_hinges(knowing: Knowing, air_of: AirOf) -> None:
    work, _, air, found = week_of(knowing, air_of, 70.0, wavelength_m=0.6, gap_mm=3.0)
    judged = judge(work, found.histories["W1"], air, at_utc=AT)
    assert judged.p_clearance == 1.0
    assert judged.state is State.NEAR_GLAZING
    assert "near the glazing" in reason(judged, "UTC")
    work, _, air, found = week_of(knowing, air_of, 40.0, hinge_capacity_n_m=200.0)
    judged = judge(work, found.histories["W1"], air, at_utc=AT)
    assert (judged.listing, judged.state) == (Listing.LOOK_FIRST, State.HINGES)
    assert "chance that its hinges are giving way is over 99 %" in reason(judged, "UTC")


def test_graded_and_not_seen_since(knowing: Knowing, air_of: AirOf) -> None:
    work, _, air, found = week_of(knowing, air_of, 50.0)
    history = found.histories["W1"]
    graded = judge(
        work, history, air, at_utc=AT, last_inspection=Inspection(AT - timedelta(days=20), 2)
    )
    assert graded.listing is Listing.LOOK_FIRST
    assert (
        reason(graded, "UTC") == "It was graded 2 on 31 December 2024 and has not been seen since."
    )
    flat = judge(
        work, history, air, at_utc=AT, last_inspection=Inspection(AT - timedelta(days=2), 1)
    )
    assert flat.listing is Listing.LEAVE_BE


def test_a_loose_hinge_whatever_the_grade(knowing: Knowing, air_of: AirOf) -> None:
    work, _, air, found = week_of(knowing, air_of, 50.0)
    not_held = replace(work, mount=Mount.BONDED), State.NOT_HELD_BY_TENSION
    for one, state in ((work, State.HINGES), not_held):
        loose = Inspection(AT - timedelta(days=2), 0, released=True)
        judged = judge(one, found.histories["W1"], air, at_utc=AT, last_inspection=loose)
        assert (judged.listing, judged.state) == (Listing.LOOK_FIRST, state)
        assert reason(judged, "UTC").startswith(
            "A hinge was found loose on 18 January 2025, and nobody has found all to hold since. "
            "Do not press it back; leave it hanging as it is and call a conservator."
        )
        holds = replace(loose, released=False)
        again = judge(one, found.histories["W1"], air, at_utc=AT, last_inspection=holds)
        assert again.listing is (Listing.LEAVE_BE if one is work else Listing.NOT_COVERED)


@pytest.mark.parametrize("mount", [Mount.BONDED, Mount.CORNER_HUNG, Mount.WINDOW])
def test_not_held_by_tension(knowing: Knowing, air_of: AirOf, mount: Mount) -> None:
    work, _ = knowing()
    judged = judge(replace(work, mount=mount), None, air_of(20.0, 90.0, 100), at_utc=AT)
    assert (judged.listing, judged.state) == (Listing.NOT_COVERED, State.NOT_HELD_BY_TENSION)
    assert "not held by tension" in reason(judged, "UTC")
    assert judged.headroom_up_pct is None
    assert np.isnan(judged.p_visible_now)
    assert "look for mould" in reason(judged, "UTC")  # at 90 %RH, whatever the mount
    assert ("not at risk of cockling" in reason(judged, "UTC")) == (mount is Mount.BONDED)


def test_cannot_tell(knowing: Knowing, air_of: AirOf) -> None:
    work, draws = knowing()
    sealed = replace(work, conditioned=True)
    air = air_of(20.0, 50.0, 480, first=(50.0, 50.0))
    history = estimator.run([sealed], {"W1": draws}, air).histories["W1"]
    judged = judge(sealed, history, air, at_utc=AT)
    assert (judged.listing, judged.state) == (Listing.CANNOT_TELL, State.CANNOT_TELL)
    assert judged.print_rh_pct is None
    assert "logger inside the frame" in mend(judged)
    seen = judge(
        sealed, history, air, at_utc=AT, last_inspection=Inspection(AT - timedelta(days=2), 4)
    )
    assert seen.listing is Listing.LOOK_FIRST
    nothing = judge(work, None, air, at_utc=AT)
    assert nothing.listing is Listing.CANNOT_TELL


def test_unknown_clearance_is_said(knowing: Knowing, air_of: AirOf) -> None:
    work, draws = knowing()
    unknown = replace(work, spacer_mm=None)
    air = air_of(20.0, 50.0, 480, first=(50.0, 50.0))
    history: History = estimator.run([unknown], {"W1": draws}, air).histories["W1"]
    judged = judge(unknown, history, air, at_utc=AT)
    assert np.isnan(judged.p_clearance)
    assert "clearance cannot be told" in dict(chain_sentences(judged, "UTC"))["surface"]
    assert "spacer" in mend(judged)


def test_lists_come_in_order(knowing: Knowing, air_of: AirOf) -> None:
    keys = []
    for rh in (62.0, 50.0):
        work, _, air, found = week_of(knowing, air_of, rh)
        keys.append(judge(work, found.histories["W1"], air, at_utc=AT).order_key)
    assert keys[0] < keys[1]


def test_lead_time_if_the_room_stays(knowing: Knowing, air_of: AirOf) -> None:
    # a frame of half-time 48 h at 50 % in a room at 60 %: visible at 3.75 + 0.2 %RH above mounting,
    # about 48 log2(10/(10 - 3.95)) = 35 h after the room turned; linear store, so within two hours
    rh = np.full(30, 60.0)
    work, draws = knowing(half_time_h=48.0, shift_per_k=1e-6)
    air = air_of(20.0, rh, first=(50.0, 50.0))
    found = estimator.run([work], {"W1": draws}, air)
    ahead = lead_time([work], {"W1": draws}, found.last, air)["W1"]
    assert ahead.if_room_stays_h is not None
    assert 29 + ahead.if_room_stays_h == pytest.approx(35.0, abs=4.0)
    assert ahead.if_trend_goes_on_h == pytest.approx(ahead.if_room_stays_h, abs=1.0)


def test_lead_time_if_the_trend_goes_on(knowing: Knowing, air_of: AirOf) -> None:
    rh = np.concatenate([np.full(100, 50.0), 50 + 0.2 * np.arange(7)])
    work, draws = knowing(half_time_h=1.0)
    air = air_of(20.0, rh, first=(50.0, 50.0))
    found = estimator.run([work], {"W1": draws}, air)
    ahead = lead_time([work], {"W1": draws}, found.last, air)["W1"]
    assert ahead.if_room_stays_h is None
    # 0.2 %RH an hour from 51.2 %: 54 % after about 14 h, the frame an hour and a half later
    assert ahead.if_trend_goes_on_h == pytest.approx(15.0, abs=3.0)
    capped = LeadTimeLimits(cap_rh_pct=1.0)
    short = lead_time([work], {"W1": draws}, found.last, air, limits=capped)["W1"]
    assert short.if_trend_goes_on_h is None
    assert short.horizon_h == 14 * 24


def test_lead_time_when_it_is_so_already(knowing: Knowing, air_of: AirOf) -> None:
    work, draws, air, found = week_of(knowing, air_of, 65.0)
    assert lead_time([work], {"W1": draws}, found.last, air)["W1"].if_room_stays_h == 0.0
    early = replace(found.last, time_utc=datetime(2024, 12, 1, tzinfo=UTC))
    with pytest.raises(NotEnoughError, match="up to the present state"):
        lead_time([work], {"W1": draws}, early, air)


def test_words_of_probability() -> None:
    assert slack_words(0.71) == "is probably slack (71 %)"
    assert slack_words(0.70) == "may be slack (70 %)"
    assert slack_words(0.30) == "may be slack (30 %)"
    assert slack_words(0.29) == "is unlikely to be slack (29 %)"
    assert percent(0.999) == "over 99 %"


def test_nothing_of_the_forbidden_is_said(knowing: Knowing, air_of: AirOf) -> None:
    texts = []
    for rh in (35.0, 50.0, 58.0, 70.0):
        work, _, air, found = week_of(knowing, air_of, rh)
        judged = judge(work, found.histories["W1"], air, at_utc=AT)
        texts += [
            reason(judged, "UTC"),
            condition(judged, "UTC"),
            *(s for _, s in chain_sentences(judged, "UTC")),
        ]
    for word in ("damage", "alarm", "critical", "compliance", "safe"):
        assert not [t for t in texts if word in t.lower()]

"""A frame's half-time in words and rows, for its page and for the command line alike."""

from collections.abc import Sequence
from datetime import datetime

from analysis.learning.half_time import (
    Doubt,
    HalfTimeFit,
    KnownOffset,
    OutsideTheFit,
    left_out,
    longest_gap_h,
    longest_interval_h,
    middle_of,
)
from analysis.learning.output_error import Bound
from analysis.learning.paired_loggers import SAMPLES_A_HALF_TIME
from analysis.records.inspection_records import Measured
from analysis.results import Range
from analysis.works import FRAME_WORDS, GLAZED, Override, Work
from dashboards.lines import Table
from dashboards.text import wording
from dashboards.text.messages import N_, _
from dashboards.text.wording import duration, joined

CO_LOCATION = N_(
    "An offset between the two sensors cannot be told from a colder wall: leave both loggers side "
    "by side for 24 to 48 hours first, and let the inner one record temperature too."
)
DOUBTS = {
    Doubt.TOO_COARSE: N_(
        "Readings every {interval} are too far apart for a half-time of {half}: at most {most}."
    ),
    Doubt.GAP: N_("There is a gap of {gap}, taken as a straight line."),
    Doubt.TOO_SHORT: N_(
        "The record of {record} is shorter than one half-time ({half}); three would be better."
    ),
    Doubt.TOO_STILL: N_(
        "The frame moved by {swing} only, less than ten times the sensors' noise ({noise})."
    ),
    Doubt.OTHER_SHAPE: N_(
        "What is left over ({rest}) is larger than noise and runs in long waves: "
        "one half-time does not describe this frame over this record."
    ),
}
HEADINGS = (N_("Half-time"), N_("Low"), N_("Typical"), N_("High"))
BEHIND = N_(
    "How much warmer the frame is than the room’s logger is not taken from this record: on an "
    "outside wall, or one of which nobody wrote down what it is, the cold behind is in it too."
)


def question(work: Work) -> str:
    """Return what is asked."""
    return _("How fast does the frame of {title} follow the room?", title=work.title)


def answer_words(work: Work, found: HalfTimeFit | None, default_h: Range) -> str:
    """Return the answer in one sentence: fitted, bounded on one side, measured, or only usual."""
    stated = work.overrides.get("half_time_h")
    if found is not None and found.fit.bound is not Bound.NONE:
        return _fitted_words(found)
    if found is None and stated is not None:
        return _(
            "Half of the way in about {value} ({low} to {high}), as was measured.",
            value=duration(stated.value),
            low=duration(stated.low),
            high=duration(stated.high),
        )
    usual = joined(duration(default_h.low), duration(default_h.high))
    start = _("Nobody has measured it") if found is None else _("The record does not tell it")
    return _(
        "{start}: half of the way may take {usual}, as is usual for its build.",
        start=start,
        usual=usual,
    )


def _fitted_words(found: HalfTimeFit) -> str:
    fit = found.fit
    low, high = duration(fit.low_h), duration(fit.high_h)
    if fit.bound is Bound.AT_LEAST:
        return _(
            "Half of the way takes at least {low}; the record does not say how much longer.",
            low=low,
        )
    if fit.bound is Bound.AT_MOST:
        return _(
            "Half of the way takes at most {high}; the record does not say how much less.",
            high=high,
        )
    said = _(
        "Half of the way in about {half_time}, probably {low} to {high}",
        half_time=duration(fit.half_time_h),
        low=low,
        high=high,
    )
    return f"{said}." if found.sound else _("{said}, but the record leaves doubts.", said=said)


def facts_words(logger: str, room_name: str, span: tuple[datetime, datetime], zone: str) -> str:
    """Return which logger was in the frame, beside which room's, and from when to when."""
    first, last = (wording.date_time(at, zone).split(",")[0] for at in span)
    return _(
        "logger {logger} in the frame, beside those of {room_name}, {first} to {last}",
        logger=logger,
        room_name=room_name,
        first=first,
        last=last,
    )


def in_use_words(stated: Override, since_utc: datetime | None, zone: str) -> str:
    """Return which measured half-time is in use, since when, and where it came from."""
    since = "" if since_utc is None else f" since {wording.day(since_utc, zone)}"
    return _(
        "In use{since}: {value} ({low} to {high}), {origin}.",
        since=since,
        value=duration(stated.value),
        low=duration(stated.low),
        high=duration(stated.high),
        origin=stated.origin,
    )


def warmth_words(warmer: Measured | None) -> str:
    """Return how much warmer the frame was than the room's logger; None: why that is not taken."""
    if warmer is None:
        return _(BEHIND)
    value = abs(round(warmer.value, 1))
    said = _("as warm as")
    if value:
        size = wording.with_unit(value, "K", 1)
        warm, cold = _("{size} warmer than", size=size), _("{size} colder than", size=size)
        said = warm if warmer.value > 0 else cold
    between = wording.joined(wording.signed(warmer.low, 1), wording.signed(warmer.high, 1), "K")
    return _(
        "In the mean over the record the frame was {said} the room’s logger ({between}); used "
        "with the half-time, this takes the place of the tables’ doubt while the work hangs there.",
        said=said,
        between=between,
    )


def apart_words(near: Sequence[str]) -> str:
    """Return that nobody knows how near the room's loggers hang, with what is written of it.

    ``near`` holds where the loggers hang, and last where the work does.
    """
    loggers = "; ".join(place for place in near[:-1] if place) or _("not written down")
    work = near[-1] or _("not written down")
    return _(
        "The room's logger should hang within 1 m of the frame, on the same wall. Whether it does "
        "is not recorded as a distance: loggers, {loggers}; work, {work}.",
        loggers=loggers,
        work=work,
    )


def table(work: Work, found: HalfTimeFit | None, default_h: Range) -> Table:
    """Return the half-time before and after the fit."""
    rows = [_row(_("Usual for its build: {build}", build=_(FRAME_WORDS[work.frame])), default_h)]
    if "board_mass_kg_m2" in work.overrides:
        rows = [_row(_("From its board and back"), default_h)]
    if found is not None and found.fit.bound is Bound.BOTH:
        fit = found.fit
        rows.append(
            _row(_("Fitted from this record"), Range(fit.low_h, fit.half_time_h, fit.high_h))
        )
    if stated := work.overrides.get("half_time_h"):
        rows.append(_row(_("In use now"), Range(stated.low, stated.value, stated.high)))
    return Table([_(heading) for heading in HEADINGS], rows, _("At 20 °C and 50 %RH"), (1, 2, 3))


def _row(name: str, hours: Range) -> tuple[str, ...]:
    return (name, *(duration(value) for value in (hours.low, hours.mid, hours.high)))


def how_to_measure(work: Work, default_h: Range) -> list[str]:
    """Return how to get a record, step by step; for an unglazed work, why there is none to get."""
    if work.frame not in GLAZED:
        return [
            _(
                "This work has no glazing: its face is in the room's air and follows within "
                "minutes to an hour. A logger behind it would tell of its back, not of its face."
            )
        ]
    most = duration(default_h.low / SAMPLES_A_HALF_TIME)
    return [
        _(
            "Lay a small logger beside the room’s for 24 to 48 hours: this tells the offset "
            "between the two sensors."
        ),
        _(
            "Wait until the frame is opened anyway, by those who may open it; never open one for "
            "this. Let them leave the logger inside, clear of the print and its hinges, recording "
            "temperature and relative humidity."
        ),
        _(
            "Set both loggers to a reading at least every {most}, a fifth of the shortest "
            "half-time of this build.",
            most=most,
        ),
        _(
            "Leave it for at least one half-time, better three: for this build usually {least} to "
            "{most}, in a tight one up to {high}.",
            least=duration(default_h.mid),
            most=duration(3.0 * default_h.mid),
            high=duration(3.0 * default_h.high),
        ),
        _(
            "Enter in the register that the logger is in the frame of this work, since when, and "
            "since when the frame is closed; then bring both records in."
        ),
    ]


def statements(found: HalfTimeFit) -> list[str]:
    """Return what must be said along with a fit: the result, the doubts, then the rest."""
    return [
        result_words(found),
        *doubts_words(found),
        *_here_words(found),
        *_gap_words(found),
        _residual_words(found),
        _(CO_LOCATION) if found.offset is None else _known_offset_words(found.offset),
    ]


def result_words(found: HalfTimeFit) -> str:
    """Return what the fit says of the half-time, with its range or its one bound."""
    fit = found.fit
    low, high = duration(fit.low_h), duration(fit.high_h)
    if fit.bound is Bound.NONE:
        return _("This record does not tell the half-time at all.")
    if fit.bound is Bound.AT_LEAST:
        return _("The half-time is at least {low}; the record gives no upper bound.", low=low)
    if fit.bound is Bound.AT_MOST:
        return _("The half-time is at most {high}; the record gives no lower bound.", high=high)
    return _(
        "The half-time is about {half}, probably between {low} and {high} at 20 °C and 50 %RH.",
        half=duration(fit.half_time_h),
        low=low,
        high=high,
    )


def doubts_words(found: HalfTimeFit) -> list[str]:
    """Return the demands on the record that are not met, each as a sentence."""
    fit = found.fit
    facts = {
        "interval": duration(found.interval_h),
        "half": duration(fit.half_time_h),
        "most": duration(longest_interval_h(fit.half_time_h)),
        "gap": duration(longest_gap_h(found.whole)),
        "record": duration(found.record_h),
        "swing": wording.with_unit(fit.swing, "%RH", 1),
        "noise": f"{wording.significant(found.noise_pct)} {wording.unit_words('%RH')}",
        "rest": wording.with_unit(fit.residual_rms, "%RH", 1),
    }
    return [_(DOUBTS[one], **facts) for one in found.doubts]


def _here_words(found: HalfTimeFit) -> list[str]:
    """Return the half-time at the middle of the record's own conditions, where it is known."""
    if found.fit.bound is not Bound.BOTH:
        return []
    temp, rh = middle_of(found.pair)
    return [
        _(
            "At the {temp} and {rh} of this record it is {half}.",
            temp=wording.with_unit(temp, "°C"),
            rh=wording.rh(rh),
            half=duration(found.here_h),
        )
    ]


def _gap_words(found: HalfTimeFit) -> list[str]:
    """Return how much was left out after gaps, where anything was."""
    share = left_out(found.whole, found.pair)
    if not share:
        return []
    return [
        _(
            "The longest gap is {gap}; until the frame had forgotten its gaps, {share} of the "
            "readings were left out.",
            gap=duration(longest_gap_h(found.whole)),
            share=wording.share(share),
        )
    ]


def _residual_words(found: HalfTimeFit) -> str:
    fit = found.fit
    return _(
        "Left over: {rest} rms, each residual {alike} like the one before; offset of the inner "
        "sensor {offset} %RH.",
        rest=wording.with_unit(fit.residual_rms, "%RH", 2),
        alike=wording.number(fit.lag_one, 2),
        offset=wording.signed(fit.offset, 1),
    )


def _known_offset_words(offset: KnownOffset) -> str:
    """Return what the offset known from days side by side says beside the one fitted freely."""
    known, free = (wording.signed(one, 1) for one in (offset.known_pct, offset.free_pct))
    if offset.agrees:
        return _(
            "The offset was {known} %RH on the days side by side, and is kept; fitted freely it "
            "would be {free} %RH.",
            known=known,
            free=free,
        )
    apart = wording.with_unit(abs(offset.warmer_k), "K", 1)
    if offset.warmer_k < 0:
        return _(
            "The offset was {known} %RH on the days side by side, and fitted freely it is {free} "
            "%RH: as if the print were about {apart} colder than the logger in the frame, or a "
            "sensor had drifted. The free one is used.",
            known=known,
            free=free,
            apart=apart,
        )
    return _(
        "The offset was {known} %RH on the days side by side, and fitted freely it is {free} %RH: "
        "as if the print were about {apart} warmer than the logger in the frame, or a sensor had "
        "drifted. The free one is used.",
        known=known,
        free=free,
        apart=apart,
    )


def outside_words(outside: Sequence[OutsideTheFit]) -> str:
    """Return why a fitted half-time should not be trusted in other conditions, or nothing."""
    units = {"temp_c": "°C", "rh_pct": "%RH"}
    reasons = [
        _(
            "{here}, fitted between {low} and {high}",
            here=wording.span(*one.here, units[one.quantity]),
            low=wording.number(one.fitted[0]),
            high=wording.with_unit(one.fitted[1], units[one.quantity]),
        )
        for one in outside
    ]
    if not reasons:
        return ""
    return _("The half-time was fitted in other conditions: {reasons}.", reasons="; ".join(reasons))

"""Plans in words: when to mount, whether to seal, other set points, how deep a spacer.

A year that is used begins and ends at hours of UTC, and its days are named so.
"""

from collections.abc import Sequence

from analysis.parameters import parameter
from analysis.planning.mounting import MountingCurve
from analysis.planning.sealing import (
    BACK_WARMER_K,
    MOULD_RH_PCT,
    BuildYear,
    Package,
    SealingComparison,
    SealingWarning,
)
from analysis.planning.seasonal import Schedule, ScheduleYear, schedule_change
from analysis.planning.spacer import Clearance
from analysis.works import FRAME_WORDS, NEEDS_CLOSING_RH
from dashboards.text import wording
from dashboards.text.messages import N_, _, counted
from dashboards.text.wording import day_only, number, range_words, significant, with_unit

UTC = "UTC"
OUR_MODEL = N_(
    "This is our model, not a published rule: no source was found that gives a humidity to mount "
    "at for a gallery's year."
)
SAME_YEAR = N_("The coming year is like the last one.")
SET_POINT_CAUTIONS = (
    N_(
        "Plant and its controls are the engineer's: nothing here says what they can hold, nor what "
        "they use."
    ),
    N_(
        "Sudden changes are worse than slow ones: let a set point glide over weeks, and look at "
        "the "
        "works through the first changes."
    ),
    N_(
        "The room is taken to follow the schedule exactly; in a setback the water in the air stays."
    ),
)


def mounting_answer(curve: MountingCurve) -> str:
    """Return at which humidity a work may do best, and what the ends of the curve would do."""
    dry, damp = curve.points[0], curve.points[-1]
    return _(
        "{best} Mounted at {dry} it would have been slack for about {slack} months of {months}; at "
        "{damp} slack for {damp_slack} and overtight for {damp_tight}. The choice is the "
        "conservator's.",
        best=_best_words(curve),
        dry=f"{significant(dry.rh_pct)} %",
        slack=number(dry.year.months_slack.mid, 1),
        months=number(dry.year.look_first.judged_months, 1),
        damp=f"{significant(damp.rh_pct)} %",
        damp_slack=number(damp.year.months_slack.mid, 1),
        damp_tight=number(damp.year.months_overtight.mid, 1),
    )


def _best_words(curve: MountingCurve) -> str:
    (low, high), ends = curve.best_rh_pct, (curve.points[0].rh_pct, curve.points[-1].rh_pct)
    facts = {"low": significant(low), "high": significant(high)}
    if (low, high) == ends:
        return _("From {low} to {high} %RH no humidity can be told from the best.", **facts)
    beyond = ""
    if high == ends[1]:
        beyond = _(", the damp end of the curve")
    elif low == ends[0]:
        beyond = _(", the dry end of the curve")
    if low != high:
        return _(
            "It may do best mounted at {low} to {high} %RH{beyond}; what is known of it does not "
            "tell those apart.",
            beyond=beyond,
            **facts,
        )
    chance = max(point.p_best for point in curve.points)
    if chance > wording.PROBABLY:
        return _("It probably does best mounted near {low} %RH{beyond}.", beyond=beyond, **facts)
    return _("It may do best mounted near {low} %RH{beyond}.", beyond=beyond, **facts)


def mounting_reasons(curve: MountingCurve) -> list[str]:
    """Return what the season does, what mounting damp does, and what speaks against it."""
    reasons = [season_words(curve), _damp_words(curve)]
    if curve.sticky:
        sticky = parameter("gelatin", "softening", "sticky").value
        reasons.append(
            _(
                "Taut is not all: from about {rh} gelatin begins to turn sticky on long exposure "
                "and mould may start. The curve says nothing of either, and ends there.",
                rh=wording.rh(sticky),
            )
        )
    return reasons


def season_words(curve: MountingCurve) -> str:
    """Return what the season of mounting does, in one sentence."""
    if not curve.beginnings:
        return _("What the season of mounting does cannot be told: the record is no whole year.")
    months = ", ".join(
        _(
            "{months} from {day}",
            months=number(one.months_slack, 1),
            day=day_only(one.from_utc, UTC),
        )
        for one in curve.beginnings
    )
    rh = f"{significant(curve.middle.rh_pct)} {wording.unit_words('%RH')}"
    if not curve.season_matters:
        return _(
            "The season of mounting hardly matters at {rh}: months slack {months}.",
            rh=rh,
            months=months,
        )
    best = min(curve.beginnings, key=lambda one: one.months_slack)
    return _(
        "The season matters: mounted at {rh} it would have been slack for the fewest months when "
        "begun on {day} (months slack {months}).",
        rh=rh,
        day=day_only(best.from_utc, UTC),
        months=months,
    )


def _damp_words(curve: MountingCurve) -> str:
    plain, damp = curve.middle.year, curve.middle.damp
    return _(
        "Mounted damp at {rh} %RH, so that it dries taut: slack for {slack} months instead of "
        "{plain_slack}, overtight for {tight} instead of {plain_tight}; peak load {load} instead "
        "of {plain_load}. That is {share} of what its hinges are taken to bear, and more than it "
        "in {chance} of the cases instead of {plain_chance}: it stays flat longer and pulls its "
        "hinges harder.",
        rh=significant(curve.middle.rh_pct),
        slack=number(damp.months_slack.mid, 1),
        plain_slack=number(plain.months_slack.mid, 1),
        tight=number(damp.months_overtight.mid, 1),
        plain_tight=number(plain.months_overtight.mid, 1),
        load=range_words(damp.peak_load_n_m, "N/m"),
        plain_load=range_words(plain.peak_load_n_m, "N/m"),
        share=range_words(damp.peak_load_pct, "%"),
        chance=wording.percent(damp.p_overloaded),
        plain_chance=wording.percent(plain.p_overloaded),
    )


def mounting_assumed(curve: MountingCurve) -> list[str]:
    """Return what the curve takes for granted."""
    lines = [
        _(OUR_MODEL),
        _(
            "Mounted on {day}, the first day of the year that is used.",
            day=day_only(curve.from_utc, UTC),
        ),
        _(SAME_YEAR),
        _(
            "Slack: the sheet is longer than its panel by more than what buckles it. Overtight: "
            "the load on the hinges reaches what they are taken to bear for weeks."
        ),
    ]
    if curve.work.frame in NEEDS_CLOSING_RH:
        lines.append(_("The package is closed at the humidity of mounting."))
    if curve.work.sun_or_spot:
        lines.append(_("Sun and spotlights are left out: they would have to be kept off."))
    return lines


def build_words(build: BuildYear) -> str:
    """Return what a frame build is called, and whether it is the present one."""
    name = _(FRAME_WORDS[build.build])
    return _("{build} (as it is now)", build=name) if build.is_now else name


def sealing_answer(found: SealingComparison) -> str:
    """Return how the builds differ, and what closing today would lock in."""
    closing = _(
        "Closing today would lock in about {rh}.", rh=range_words(found.locked_in_rh_pct, "%RH")
    )
    shares = [build.year.look_first.share for build in found.builds]
    if found.hardly_differ:
        mean = wording.share(sum(shares) / len(shares))
        return _(
            "The builds hardly differ: look first in about {share} of a year. {closing}",
            share=mean,
            closing=closing,
        )
    parts = [
        f"{build_words(build)} {wording.share(share)}"
        for build, share in zip(found.builds, shares, strict=True)
    ]
    return _(
        "Share of the last year in which to look first: {builds}. {closing}",
        builds="; ".join(parts),
        closing=closing,
    )


def sealing_reasons(found: SealingComparison) -> list[str]:
    """Return what to know before closing."""
    month = found.month_rh_pct
    kept = _(
        "A package keeps the humidity of the day it is closed: over the last month that would have "
        "been anything from {range}.",
        range=wording.span(month.low, month.high, "%RH"),
    )
    return [kept, *package_words(found.package)]


def package_words(found: Package) -> list[str]:
    """Return what a package closed now would hold, in plain sentences."""
    return [
        _(
            "Through the room's year, {temp}, a package closed now would go from {cooled} to "
            "{warmed} by temperature alone: its boards hold the water, so it rises as it warms.",
            temp=wording.span(found.coldest_c, found.warmest_c, "°C"),
            cooled=number(found.cooled_rh_pct),
            warmed=wording.rh(found.warmed_rh_pct),
        ),
        _(
            "Should an absorbent back be {warmer} warmer than the print, as when a wall is heated "
            "or a lamp goes off, the air at the print goes to {rh}.",
            warmer=with_unit(BACK_WARMER_K, "K"),
            rh=wording.rh(found.print_rh_pct),
        ),
        _(
            "Water forms inside the glazing where that is {dew} colder than the package; {mould}, "
            "where mould may grow, is reached at {humid}.",
            dew=with_unit(found.dew_k, "K", 1),
            mould=wording.rh(MOULD_RH_PCT),
            humid=with_unit(found.humid_k, "K", 1),
        ),
    ]


WARNINGS = {
    SealingWarning.NO_TARGET: N_(
        "The humidity of mounting is not known: nothing to compare the package with."
    ),
    SealingWarning.TOO_DAMP: N_(
        "Closed as damp as now, {held}, glazing only {margin} colder than the "
        "package has air humid enough for mould at it: do not close it now."
    ),
    SealingWarning.COLD_WALL: N_(
        "It hangs on an {wall}: in a sealed package on a cold wall the back "
        "and the front differ in temperature, and water may move towards the cold side."
    ),
    SealingWarning.SUN: N_(
        "Sun or a spotlight reaches it: a sealed package in the sun is not estimated."
    ),
}
ABOVE = N_(
    "Closed now, a sealed package would keep about {locked}, {apart} above its target of {target}: "
    "let it rest in air at the target first."
)
BELOW = N_(
    "Closed now, a sealed package would keep about {locked}, {apart} below its target of {target}: "
    "let it rest in air at the target first."
)


def sealing_warnings(found: SealingComparison) -> list[str]:
    """Return what speaks against closing now."""
    locked, target = found.locked_in_rh_pct.mid, found.target_rh_pct
    far = ABOVE if target is None or locked > target else BELOW
    facts = {
        "locked": wording.rh(locked),
        "apart": wording.rh(None if target is None else abs(locked - target)),
        "target": wording.rh(target),
        "held": wording.rh(found.package.rh_pct),
        "margin": with_unit(found.package.humid_k, "K", 1),
        "wall": _(found.work.wall.value),
    }
    return [_(WARNINGS.get(warning, far), **facts) for warning in found.warnings]


def sealing_assumed(found: SealingComparison) -> list[str]:
    """Return what the comparison takes for granted."""
    return [
        _(
            "Each build closed on {day} at the humidity that today would lock in.",
            day=day_only(found.from_utc, UTC),
        ),
        _(
            "The coming year is like the last one. The years from its mounting to that day, which "
            "the room's year does not show, are drawn as in every judgement."
        ),
        _("Half-times are class defaults unless one was fitted for this frame as it is now."),
    ]


def schedule_words(schedule: Schedule) -> str:
    """Return what a schedule is called: its name, or what it changes.

    Examples
    --------
    >>> from analysis.planning.seasonal import set_points
    >>> schedule_words(set_points(summer_pct=4.0, glide_days=30))
    '+4 %RH from June to August, gliding over 30 days'
    """
    if schedule.name:
        return _(schedule.name)
    winter, summer = (schedule.shift_rh_pct.get(month, 0.0) for month in (12, 6))
    parts = []
    if winter:
        parts.append(_("{change} %RH from December to February", change=wording.signed(winter)))
    if summer:
        parts.append(_("{change} %RH from June to August", change=wording.signed(summer)))
    if parts and schedule.glide_days:
        days = schedule.glide_days
        parts.append(counted("gliding over {many} day", "gliding over {many} days", days))
    if schedule.setback_k:
        parts.append(
            _(
                "{setback} K cooler from {start} to {end} h",
                setback=significant(schedule.setback_k),
                start=number(schedule.from_hour),
                end=number(schedule.to_hour),
            )
        )
    return ", ".join(parts)


def schedule_answer(years: Sequence[ScheduleYear]) -> str:
    """Return what the last schedule would change against the year as it was, in one sentence."""
    was, new = years[0], years[-1]
    change, name = schedule_change(was, new), schedule_words(new.schedule)
    if change.hardly:
        return _(
            "“{name}” would hardly have changed this print's year: the day in the frame spans "
            "{new} instead of {was}.",
            name=name,
            new=with_unit(new.frame_swing_pct, "%RH", 1),
            was=number(was.frame_swing_pct, 1),
        )
    return _(
        "“{name}” would have changed its months slack by about {slack}, its months overtight by "
        "{tight}, and the share of the year in which to look first by {first} %.",
        name=name,
        slack=wording.signed(change.months_slack, 1),
        tight=wording.signed(change.months_overtight, 1),
        first=wording.signed(100.0 * change.look_first),
    )


def clearance_answer(found: Clearance) -> str:
    """Return what is left in front of a print, and the depth of spacer it needs."""
    if not found.glazed:
        return _("There is no glazing in front: no clearance to keep.")
    if found.wave_mm is None or found.needed_mm is None:
        return _("Cannot tell: the height of the waves is refused; see the reason beside the work.")
    agreed = f"{significant(found.agreed_minimum_mm)} mm"
    need = _(
        "To keep the agreed {agreed} it needs a spacer of about {middle}, and {worst} should "
        "everything be at its worst.",
        agreed=agreed,
        middle=with_unit(found.needed_mm.mid, "mm"),
        worst=with_unit(found.needed_mm.high, "mm"),
    )
    total = found.clearance_mm
    if total is None:
        return _(
            "Cannot tell whether it is enough: the depth of the spacer is not known. Measure it "
            "and enter it. {need}",
            need=need,
        )
    facts = {
        "middle": with_unit(total.mid, "mm", 1),
        "worst": with_unit(total.low, "mm", 1),
        "agreed": agreed,
        "need": need,
    }
    if found.enough:
        return _(
            "The clearance is most likely {middle}, and at the worst still the agreed {agreed} or "
            "more. {need}",
            **facts,
        )
    if total.low <= 0.0:
        return _(
            "The clearance is most likely {middle}, and at the worst the print may touch the "
            "glazing ({worst}). {need}",
            **facts,
        )
    return _(
        "The clearance is most likely {middle}, and at the worst the print has less than the "
        "agreed {agreed} ({worst}). {need}",
        **facts,
    )

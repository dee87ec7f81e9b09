"""A room's week against the same week of last year, or against outdoors, in one sentence."""

from analysis.air.mean_difference import LEAST_H, mean_difference
from analysis.results import Beside, RoomWeek
from analysis.series import usable
from dashboards.text import wording
from dashboards.text.messages import N_, Worded, _

BESIDE_WORDS = Worded(
    {
        Beside.WEEK: N_("the week before"),
        Beside.YEAR: N_("the same week of last year"),
        Beside.OUTDOORS: N_("outdoors"),
    }
)


def beside_sentence(week: RoomWeek, dates: str) -> str:
    """Return how the room's week differs from what it is drawn beside; "" of the week before.

    ``dates`` are those of the same week of last year.
    """
    if week.beside is Beside.WEEK:
        return ""
    return _of_last_year(week, dates) if week.beside is Beside.YEAR else _of_outdoors(week)


def _of_last_year(week: RoomWeek, dates: str) -> str:
    then = week.before
    if then is not None:
        damp, warm = (
            mean_difference(usable(week.readings, name), usable(then, name))
            for name in ("rh_pct", "temp_c")
        )
        if damp is not None and warm is not None:
            return _(
                "Against the same week of last year, {dates}, the room was {damp} and {warm} on "
                "average, over the {hours} measured in both.",
                dates=dates,
                damp=_damper(damp.difference),
                warm=_warmer(warm.difference),
                hours=wording.duration(damp.hours),
            )
    return _(
        "How it compares with the same week of last year, {dates}, cannot be told: less than "
        "{least} were measured in both.",
        dates=dates,
        least=wording.duration(LEAST_H),
    )


def _damper(difference: float) -> str:
    figure = wording.rh(abs(difference))
    if figure == wording.rh(0.0):
        return _("as damp")
    words = _("{figure} damper", figure=figure), _("{figure} drier", figure=figure)
    return words[difference < 0.0]


def _warmer(difference: float) -> str:
    figure = wording.temp(abs(difference))
    if figure == wording.temp(0.0):
        return _("as warm")
    words = _("{figure} warmer", figure=figure), _("{figure} cooler", figure=figure)
    return words[difference < 0.0]


def _of_outdoors(week: RoomWeek) -> str:
    there = week.before
    apart = (
        None
        if there is None
        else mean_difference(week.readings["dew_point_c"], there["dew_point_c"])
    )
    if apart is None:
        return _(
            "How it compares with outdoors cannot be told: less than {least} were measured in "
            "both.",
            least=wording.duration(LEAST_H),
        )
    higher = apart.difference >= 0.0
    figures = {
        "figure": wording.temp(abs(apart.difference)),
        "share": wording.share(apart.below if higher else 1.0 - apart.below),
        "hours": wording.duration(apart.hours),
    }
    if higher:
        return _(
            "The room's dew point was {figure} above that outdoors on average, and below it in "
            "{share} of the {hours} measured in both.",
            **figures,
        )
    return _(
        "The room's dew point was {figure} below that outdoors on average, and above it in "
        "{share} of the {hours} measured in both.",
        **figures,
    )

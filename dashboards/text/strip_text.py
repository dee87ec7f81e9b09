"""What stands beside a work's strip: its highest chance and when, its RH at mounting, the key."""

import math
from collections.abc import Callable, Mapping

from analysis.results import Judgement
from analysis.works import Work
from dashboards.text import wording
from dashboards.text.messages import _

KEY_WORDS: Mapping[float | str, Callable[[], str]] = {
    0.1: lambda: wording.percent(0.1),
    0.3: lambda: wording.percent(0.3),
    0.7: lambda: wording.percent(0.7),
    0.9: lambda: _("{chance} probably slack", chance=wording.percent(0.9)),
    "seen": lambda: _("inner bar: waves seen"),
    "untold": lambda: _("not known"),
}


def peak_words(judgement: Judgement, zone: str) -> str:
    """Return the highest chance of waves within the week and when: "99 % Thu 21:00"."""
    if math.isnan(judgement.p_visible_week):
        return ""
    chance = wording.percent(judgement.p_visible_week)
    at = None if judgement.now is None else judgement.now.likeliest_utc
    if at is None or judgement.p_visible_week < 0.01:
        return chance
    return f"{chance} {wording.short_time(at, zone)}"


def mounted_figure(work: Work) -> str:
    """Return the RH at mounting alone, as it stands in a column."""
    known = work.mounted_rh_pct
    return _("not known") if known is None else wording.rh(known)


def mounted_short(work: Work) -> str:
    """Return the RH at mounting, short; what is not known is said."""
    if work.mounted_rh_pct is None:
        return _("mounted at an RH not known")
    return _("mounted at {rh}", rh=wording.rh(work.mounted_rh_pct))


def strip_sentence(judgement: Judgement, zone: str) -> str:
    """Return what a strip shows, for a reader who does not see it."""
    if math.isnan(judgement.p_visible_week):
        return _("{title}: nothing can be told of it.", title=judgement.title)
    return _(
        "{title}: highest chance of waves {peak}.",
        title=judgement.title,
        peak=peak_words(judgement, zone),
    )

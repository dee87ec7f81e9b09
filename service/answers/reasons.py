"""Why a work is as it is at an hour: the chain from its room to its surface, as far as it holds."""

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from analysis.air.room_air import RoomAir
from analysis.answers.explain import WEEK, Chain, Link, as_it_was, explain
from analysis.answers.judgement import judge
from analysis.answers.sensitivity import Influence
from analysis.answers.value_of_information import with_what_knowing_brings
from analysis.results import Judgement, Range
from analysis.simulation.checkpoints import instant
from analysis.simulation.phases import mounted_since
from analysis.works import Mount, Work
from dashboards.text import wording
from dashboards.text.judgement_text import mend, not_held_sentences, reason
from dashboards.text.messages import _
from dashboards.text.parameters import PARAMETER_WORDS, SETTLED_BY
from dashboards.text.reasons import decides_sentence, link_sentence, way_words
from service.answers.museum import Museum
from service.climate.room_readings import full_hour
from service.estimates.assessments import Assessed
from service.estimates.checkpoints import stored_week
from service.estimates.record_problems import latest_inspection
from service.storage.inspections import inspections
from service.storage.site_clock import time_written

WEEKS = 5  # of history that a work's page shows; one estimate serves it and this
HOUR = timedelta(hours=1)


@dataclass(frozen=True)
class Reasons:
    """Why a work is as it is at an hour.

    ``chain`` is None where nothing can be told; ``answer`` says why. ``mend`` says what would mend
    a refused judgement. The record in which hours can be asked for runs from ``first_utc`` to
    ``last_utc``, None where there is none.
    """

    work: Work
    room_id: str
    at_utc: datetime
    answer: str
    chain: Chain | None = None
    mend: str = ""
    first_utc: datetime | None = None
    last_utc: datetime | None = None


def reasons(museum: Museum, work_id: str, at_utc: datetime | None = None) -> Reasons:
    """Return why a work is as it is at the full hour at or before a time; default: now.

    All inspections count, also those after that hour: it is what is known now of then.
    """
    now = museum.now()
    if at_utc is None or full_hour(at_utc) == now:
        return museum.cached(("reasons", work_id, now), lambda: _reasons(museum, work_id, now))
    return _reasons(museum, work_id, at_utc)


def _reasons(museum: Museum, work_id: str, at_utc: datetime) -> Reasons:
    found = museum.work_over(work_id, WEEKS)
    explained = reasons_for(museum, found, full_hour(at_utc))
    if explained.chain is None or found.draws is None or found.air is None:
        return explained
    weights = None if found.learned is None else found.learned.weights
    phased_work = (found.work, found.draws, found.air, weights, found.earlier)
    return replace(explained, chain=with_what_knowing_brings(explained.chain, *phased_work))


def reasons_for(museum: Museum, found: Assessed, at_utc: datetime) -> Reasons:
    """Return the same for a work that has been assessed, without what knowing more would bring."""
    work, air = found.work, found.air
    if found.draws is None:
        judged = found.judgement
        answer = reason(judged, museum.zone)
        return Reasons(work, found.room_id, at_utc, answer, mend=mend(judged))
    assert air is not None, "a work is explained by all its air: ask Museum.work_over for it"
    first, last = instant(air.time_utc[0]) + HOUR, instant(air.time_utc[-1])
    explained = Reasons(work, found.room_id, at_utc, "", first_utc=first, last_utc=last)
    then, _, _ = as_it_was(work, found.draws, found.earlier, at_utc)
    if nothing := _nothing_to_tell(then, air, at_utc, museum.zone):
        return replace(explained, work=then, answer=nothing)
    weights = None if found.learned is None else found.learned.weights
    phased_work = (work, found.draws, weights, air, found.earlier)
    since = stored_week(museum.stores.results, *phased_work, before=at_utc - WEEK)
    chain = explain(work, found.draws, air, at_utc, weights, since=since, earlier=found.earlier)
    judged = found.judgement if at_utc == found.judgement.at_utc else _then(museum, found, chain)
    return replace(
        explained,
        work=chain.work,
        answer=reason(judged, museum.zone),
        chain=chain,
        mend=mend(judged),
    )


def _then(museum: Museum, found: Assessed, chain: Chain) -> Judgement:
    """Return the judgement of a past hour, after what had been seen of the work by then."""
    seen = inspections(museum.stores.register, found.work.work_id)
    by_then = [one for one in seen if one.at_utc <= chain.at_utc]
    mounted = mounted_since(chain.work, [p for p in found.earlier if p.until_utc <= chain.at_utc])
    last = latest_inspection(by_then, mounted)
    return judge(chain.work, chain.history, found.air, at_utc=chain.at_utc, last_inspection=last)


def _nothing_to_tell(work: Work, air: RoomAir, at_utc: datetime, zone: str) -> str:
    """Return why nothing can be told of an hour outside the record or before mounting, or ""."""
    begun, last = instant(air.time_utc[0]), instant(air.time_utc[-1])
    if work.mount is not Mount.TENSION_HELD:
        return " ".join(not_held_sentences(work))
    if at_utc < begun + HOUR:
        since = wording.date_time(begun, zone)
        return _(
            "Nothing can be told of that time: the readings where it hung begin on {since}.",
            since=since,
        )
    if at_utc > last:
        until = wording.date_time(last, zone)
        return _(
            "Nothing can be told of that time yet: the last reading is of {until}.", until=until
        )
    mounted = work.mounted_utc
    if mounted is not None and at_utc < mounted:
        since = wording.date_time(mounted, zone)
        return _("Nothing can be told of that time: it was mounted on {since}.", since=since)
    return ""


def hour_asked(text: str, zone: str) -> datetime:
    """Return a time that a person wrote, in the site's zone unless it names its own, as UTC.

    Raises
    ------
    OutOfRangeError
        If it is no time.

    Examples
    --------
    >>> hour_asked("2026-07-01T14:00", "Europe/Dublin").isoformat()
    '2026-07-01T13:00:00+00:00'
    >>> hour_asked("2026-07-01 14:00Z", "Europe/Dublin").hour
    14
    """
    return time_written(text, zone, read="the time asked for", where="at")


def local_text(at_utc: datetime, zone: str) -> str:
    """Return a time as `hour_asked` reads it, with its offset where the clock shows it twice.

    Examples
    --------
    >>> from datetime import UTC
    >>> local_text(datetime(2026, 7, 1, 13, tzinfo=UTC), "Europe/Dublin")
    '2026-07-01T14:00'
    >>> local_text(datetime(2025, 10, 26, 1, tzinfo=UTC), "Europe/Dublin")
    '2025-10-26T01:00+00:00'
    """
    local = at_utc.astimezone(ZoneInfo(zone))
    text = local.replace(tzinfo=None).isoformat(timespec="minutes")
    return text if hour_asked(text, zone) == at_utc else local.isoformat(timespec="minutes")


def as_json(explained: Reasons) -> dict[str, Any]:
    """Return reasons as values that can stand in JSON; a number that is not told is None."""
    chain = explained.chain
    return {
        "work_id": explained.work.work_id,
        "at_utc": explained.at_utc.isoformat(),
        "answer": explained.answer,
        "refused": "" if chain is None else chain.refused,
        "what_would_mend": explained.mend,
        "effective_draws": None if chain is None else chain.effective,
        "links": [] if chain is None else [_link(chain, link) for link in chain.links],
    }


def _link(chain: Chain, link: Link) -> dict[str, Any]:
    said = {"step": link.step, "name": link.name, "quantity": link.quantity, "unit": link.unit}
    if not link.holds:
        return {**said, "known": False, "value": None}
    ends = link.ends
    return {
        **said,
        "known": True,
        "value": _range(link.value),
        "against": link.against,
        "sentence": link_sentence(chain, link),
        "decides": decides_sentence(link.influences, link.quantity),
        "influences": [_influence(one, link) for one in link.influences],
        "ends": None if ends is None else {k: float(v) for k, v in vars(ends).items()},
    }


def _range(value: Range) -> dict[str, float]:
    return {"low": value.low, "mid": value.mid, "high": value.high}


def _influence(one: Influence, link: Link) -> dict[str, Any]:
    return {
        "name": one.name,
        "words": PARAMETER_WORDS[one.name],
        "way": way_words(one),
        "rank_correlation": one.correlation,
        "share_of_spread": one.share,
        "clear": one.clear,
        "narrower_if_known": link.narrower.get(one.name),
        "settled_by": SETTLED_BY[one.name],
    }

"""How a house stands, by what its own first page says: never a second judgement."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from analysis.records.room_records import Rhythm
from analysis.results import Listing
from dashboards.text.messages import language
from service.answers.museum import NEW_MUSEUM, Museum
from service.answers.rounds import round_lines
from service.notices.arrangements import arrangement
from service.notices.lines import notice_line
from service.notices.silence import hung_loggers
from service.storage.notices import open_notices
from service.web.routes.week import clock_words, first_page

MOST_COMPARED = 50  # works by which one house comes before another
LAST = (float("inf"),)
HOLDS_S = 900.0

Order = tuple[tuple[float, ...], ...]


@dataclass(frozen=True)
class HouseStanding:
    """What a house says of itself at an hour; ``name`` is empty until it has told its own.

    ``order`` are the places of its works in its own order of need, the most urgent first: of two
    houses the one whose works come first there needs somebody first. ``due_utc`` is when its
    loggers are to be read next, of all rooms that a person reads.
    """

    name: str
    zone: str
    language: str
    now_utc: datetime
    answer: str
    clock: str
    counts: Mapping[Listing, int]
    order: Order
    silent: int
    due_utc: datetime | None
    notices: int = 0
    unseen: int = 0


def standing_of(museum: Museum) -> HouseStanding:
    """Return how a house stands now."""
    return with_notices(worked_out(museum), museum)


def rests_on(museum: Museum) -> tuple[object, ...]:
    """Return what a standing rests on: worked out anew once something changes, or after a while."""
    return (museum.versions().newest, museum.clock().timestamp() // HOLDS_S, language())


def with_notices(kept: HouseStanding, museum: Museum) -> HouseStanding:
    """Return how a house stands with its notices as they are now: who saw one changes no answer."""
    notices = [notice_line(one, "") for one in open_notices(museum.stores.register)]
    return replace(
        kept,
        notices=len(notices),
        unseen=sum(line.unseen for line in notices),
        now_utc=museum.clock(),
    )


def worked_out(museum: Museum) -> HouseStanding:
    """Return how a house stands, but for its notices."""
    lists = round_lines(museum, museum.now())
    judged = sorted(
        (line.judgement for lines in lists.values() for line in lines), key=lambda j: j.order_key
    )
    stores, now = museum.stores, museum.clock()
    hung = hung_loggers(stores, now, arrangement(stores.register).limits)
    return HouseStanding(
        name="" if museum.site.name == NEW_MUSEUM.name else museum.site.name,
        zone=museum.zone,
        language=language(),
        now_utc=now,
        answer=first_page(museum).answer,
        clock=clock_words(museum),
        counts=Counter({which: len(lines) for which, lines in lists.items()}),
        order=(*(one.order_key for one in judged[:MOST_COMPARED]), LAST),
        silent=sum(one.is_silent(now) for one in hung),
        due_utc=next_due(museum),
    )


def next_due(museum: Museum) -> datetime | None:
    """Return when loggers are to be read next, of all rooms that a person reads."""
    found = [museum.presence(room.room) for room in museum.rooms()]
    due = [
        one.due_utc
        for one in found
        if one.due_utc is not None and one.rhythm is not Rhythm.BY_ITSELF
    ]
    return min(due, default=None)

"""How a house stands, by what its own first page says: never a second judgement.

What a house said last is kept in its own folder, so that a group can tell of it, with the hour of
which it is, before the house has been opened or has answered again.
"""

import contextlib
import json
from collections import Counter
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from analysis.records.room_records import Rhythm
from analysis.results import Listing
from dashboards.text.messages import language
from service.answers.museum import NEW_MUSEUM, Museum
from service.answers.rounds import round_lines
from service.notices.arrangements import arrangement
from service.notices.lines import notice_line
from service.notices.silence import hung_loggers
from service.storage.durable import replace_file
from service.storage.notices import open_notices
from service.web.routes.week import clock_words, first_page

MOST_COMPARED = 50  # works by which one house comes before another
LAST = (float("inf"),)
HOLDS_S = 900.0

KEPT_IN = Path("results") / "standing.json"  # of the house's data folder

Order = tuple[tuple[float, ...], ...]
RestsOn = tuple[object, ...]


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


@dataclass(frozen=True)
class LastWord:
    """What a house said last, and on what that rests: as long as it does, it is no older word.

    ``said_s`` is when it was worked out by the machine's clock [s since 1970]; the house's own may
    be declared.
    """

    rests_on: RestsOn
    standing: HouseStanding
    said_s: float


def keep_word(folder: Path, word: LastWord) -> None:
    """Keep what a house has said in its data folder."""
    stated = asdict(word.standing) | {
        "now_utc": word.standing.now_utc.isoformat(),
        "due_utc": word.standing.due_utc and word.standing.due_utc.isoformat(),
        "counts": {str(which): many for which, many in word.standing.counts.items()},
    }
    told = {"rests_on": word.rests_on, "standing": stated, "said_s": word.said_s}
    replace_file(folder / KEPT_IN, json.dumps(told, ensure_ascii=False).encode())


def kept_word(folder: Path) -> LastWord | None:
    """Return what a house said last, None where nothing is kept that this program understands."""
    with contextlib.suppress(OSError, ValueError, KeyError, TypeError, AttributeError):
        told = json.loads((folder / KEPT_IN).read_bytes())
        stated: dict[str, Any] = told["standing"]
        due = stated["due_utc"]
        read = stated | {
            "now_utc": datetime.fromisoformat(stated["now_utc"]),
            "due_utc": due and datetime.fromisoformat(due),
            "counts": Counter({Listing(which): many for which, many in stated["counts"].items()}),
            "order": tuple(tuple(one) for one in stated["order"]),
        }
        return LastWord(tuple(told["rests_on"]), HouseStanding(**read), float(told["said_s"]))
    return None


def rests_on(museum: Museum) -> RestsOn:
    """Return what a standing rests on: worked out anew once something changes, or after a while."""
    return (museum.versions().newest, museum.clock().timestamp() // HOLDS_S, language())


def with_notices(kept: HouseStanding, museum: Museum) -> HouseStanding:
    """Return how a house stands with its notices as they are now: who saw one changes no answer."""
    notices = [notice_line(one, "") for one in open_notices(museum.stores.register)]
    return replace(kept, notices=len(notices), unseen=sum(line.unseen for line in notices))


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

"""What is due by the clock, also when nothing comes in: silence, delays, letters.

`Watch` does it while the pages are served, ``stilltaut due`` does it once, for a site that serves
no pages or for cron. Both share a lease in the register, so that one of several processes does it.
"""

import logging
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime

from analysis.errors import StilltautError
from service.answers.museum import Museum
from service.estimates.class_renewal import renew_when_due
from service.notices.after_arrival import after_arrival, seen_by_room
from service.notices.arrangements import Arrangement, arrangement
from service.notices.lines import notice_line, room_names
from service.notices.mail import Stage, notice_message, post_of
from service.notices.sending import Sending, mail_server, send_due
from service.notices.silence import hung_loggers
from service.notices.state import Facts, NoticeChanges, settle_rooms
from service.site_locale import in_site_locale
from service.storage.notices import Notice, open_notices
from service.storage.outbox import Letter, alone, queue_letter
from service.storage.people import Contact

log = logging.getLogger(__name__)
DUTY = "notices"
LEASE_S = 600.0


@dataclass
class Done:
    """What was due and has been done."""

    changes: NoticeChanges = field(default_factory=NoticeChanges)
    reminders: int = 0
    sending: Sending | None = None
    elsewhere: bool = False


def do_what_is_due(museum: Museum, *, rooms: bool = True) -> Done:
    """Raise and end notices by the clock, remind those who come next, send what waits.

    Parameters
    ----------
    museum : Museum
    rooms : bool
        Whether the rooms' air and works are judged too; otherwise silences and reminders alone.

    Returns
    -------
    Done
        ``elsewhere`` where another process does it at this moment; nothing was done here then.
    """
    with alone(museum.stores.register, DUTY, LEASE_S) as mine:
        return _do(museum, rooms=rooms) if mine else Done(elsewhere=True)


def _do(museum: Museum, *, rooms: bool) -> Done:
    arranged = arrangement(museum.stores.register)
    done = Done()
    if rooms:
        museum.cached(
            ("class renewal", museum.clock().date()),
            lambda: renew_when_due(museum.stores, museum.clock()),
        )
        done.changes = after_arrival(museum)
    done.changes.add(watch_silence(museum, arranged))
    done.reminders = remind(museum, arranged)
    server = mail_server(museum.settings)
    if server is not None:
        done.sending = send_due(museum.stores.register, server)
    return done


def watch_silence(museum: Museum, arranged: Arrangement) -> NoticeChanges:
    """Raise and end what is due without judging the air: silences, and what rounds have found."""
    stores, now = museum.stores, museum.clock()
    seen = seen_by_room(museum)
    hung = hung_loggers(stores, now, arranged.limits)
    rooms = dict.fromkeys(one.room for one in hung) | dict.fromkeys(seen)
    rooms |= dict.fromkeys(one.room for one in open_notices(stores.register))
    facts = {room: Facts(others=seen.get(room, ())) for room in rooms}
    return settle_rooms(stores, now, facts, settings=museum.settings, arranged=arranged)


def remind(museum: Museum, arranged: Arrangement) -> int:
    """Queue letters to those who are told when nobody has seen a notice; return how many."""
    post, now = post_of(museum.settings), museum.clock()
    if post is None:
        return 0
    return sum(
        _remind_one(museum, arranged, notice, one)
        for notice in open_notices(museum.stores.register)
        if (since := unseen_since(notice)) is not None
        for one in arranged.recipients_of(notice.kind, notice.room, after_h=_hours(since, now))
        if one.after_h > 0.0
    )


def unseen_since(notice: Notice) -> datetime | None:
    """Return since when a notice, or what has grown worse of it, waits to be seen; else None.

    What is quietened by a planned event is told to nobody, and waits for nobody.
    """
    if not notice.details.get("letters"):
        return None
    worse = notice.details.get("worse_utc")
    if notice.seen_by:
        return None if worse is None else datetime.fromisoformat(worse)
    return notice.raised_utc


def _hours(since_utc: datetime, now_utc: datetime) -> float:
    return (now_utc - since_utc).total_seconds() / 3600.0


def _remind_one(museum: Museum, arranged: Arrangement, notice: Notice, one: Contact) -> bool:
    register, post = museum.stores.register, post_of(museum.settings)
    if post is None:
        return False
    name = room_names(register)[notice.room]
    line = notice_line(notice, name, arranged.on_call(notice.room))
    now = museum.clock()
    message = notice_message(line, notice.headline, Stage.UNSEEN, post, museum.zone, now)
    message["To"] = one.email
    letter = Letter(
        letter_key=_reminder_key(notice, one),
        recipient=one.email,
        subject=str(message["Subject"]),
        body=message.as_string(),
        notice_id=notice.id,
        message_id=str(message["Message-ID"]),
        due_utc=arranged.due(
            notice.kind, now, museum.zone, pressing=bool(notice.details.get("over_half"))
        ),
    )
    return queue_letter(register, letter, now)


def _reminder_key(notice: Notice, one: Contact) -> str:
    """Return the name of a reminder: one for each person, and one more each time it grew worse."""
    key = f"{notice.cause_key}#unseen/{one.id}/{one.email}"
    worse = notice.details.get("worse_utc")
    return key if worse is None else f"{key}/{worse}"


class Watch:
    """A thread that does what is due while the pages are served.

    Parameters
    ----------
    museum : Museum
        What is watched.
    send_every_s, silence_every_s, rooms_every_s : float
        Pauses between looks into the outbox, at the clock, and at all rooms [s].
    """

    def __init__(
        self,
        museum: Museum,
        send_every_s: float = 30.0,
        silence_every_s: float = 300.0,
        rooms_every_s: float = 3600.0,
    ) -> None:
        self._museum, self._send_every_s = museum, send_every_s
        self._silence_every_s, self._rooms_every_s = silence_every_s, rooms_every_s
        self._wake = threading.Event()
        self._stopping = False
        self._thread = threading.Thread(target=self._run, name="watch", daemon=True)

    def start(self) -> None:
        """Begin."""
        self._thread.start()

    def call(self) -> None:
        """Send what waits now."""
        self._wake.set()

    def stop(self) -> None:
        """Finish what is in hand and stop."""
        self._stopping = True
        self._wake.set()
        if self._thread.is_alive():
            self._thread.join()

    def _run(self) -> None:
        looked = judged = time.monotonic()
        while not self._stopping:
            self._wake.clear()
            now = time.monotonic()
            if now - judged >= self._rooms_every_s:
                looked = judged = now
                self._once(lambda: do_what_is_due(self._museum).sending)
            elif now - looked >= self._silence_every_s:
                looked = now
                self._once(lambda: do_what_is_due(self._museum, rooms=False).sending)
            else:
                self._once(self._send)
            self._wake.wait(self._send_every_s)

    def _send(self) -> Sending | None:
        server = mail_server(self._museum.settings)
        return None if server is None else send_due(self._museum.stores.register, server)

    def _once(self, work: Callable[[], Sending | None]) -> None:
        try:
            with in_site_locale(self._museum.stores.register):
                sending = work()
        except StilltautError:
            log.exception("what was due could not be done; it is tried again")
            return
        if sending is not None and sending.last_error:
            log.warning("%d letters wait: %s", sending.waiting, sending.last_error)

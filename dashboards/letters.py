"""What a letter by e-mail receives, documented like a page."""

from dataclasses import dataclass
from typing import ClassVar

from dashboards.lines import NoticeLine
from dashboards.pages.page import documented
from dashboards.text import wording

# ruff: noqa: RUF009  (each field calls `documented`, which makes a new field every time)


@dataclass(frozen=True)
class Letter:
    """A letter about one notice: one screen of a phone, safe for a person who is no specialist."""

    template: ClassVar[str] = "mail/notice"
    zone: str = documented("IANA zone of the site")
    notice: NoticeLine = documented("The notice")
    address: str = documented("Full address of the notice's page, or empty where none is known")


def letter_subject(letter: Letter) -> str:
    """Return the subject of a letter: the room and what it is about, in few words."""
    notice = letter.notice
    since = wording.day_time(notice.since_utc, letter.zone)
    if notice.ended_utc is not None:
        return f"{notice.room_name}: over, since {since}"
    return f"{notice.room_name}: {notice.kind}, since {since}"

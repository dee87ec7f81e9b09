"""A notice as an e-mail: what a phone shows on one screen, as text and as HTML."""

from dataclasses import dataclass
from datetime import datetime
from email.message import EmailMessage
from email.utils import format_datetime, make_msgid
from enum import StrEnum

from dashboards import wording
from dashboards.lines import NoticeLine
from dashboards.links import notice as notice_link
from dashboards.sentences import CAUTION
from service.settings import Settings


class Stage(StrEnum):
    """Why a letter is written."""

    RAISED = "raised"
    CHANGED = "changed"
    ENDED = "ended"


SUBJECTS = {Stage.RAISED: "", Stage.CHANGED: "Further: ", Stage.ENDED: "Over: "}


@dataclass(frozen=True)
class Post:
    """Who writes to whom, and where the pages are."""

    sender: str
    recipients: tuple[str, ...]
    base_url: str = ""

    @property
    def domain(self) -> str:
        """The sender's domain, for a Message-ID."""
        return self.sender.rpartition("@")[2].rstrip(">") or "stilltaut.invalid"


def post_of(settings: Settings) -> Post | None:
    """Return who is written to, or None where no mail server or nobody is set."""
    recipients = tuple(name.strip() for name in settings.mail_to.split(",") if name.strip())
    if not settings.smtp_host or not recipients:
        return None
    return Post(settings.mail_from, recipients, settings.base_url.rstrip("/"))


def notice_message(
    line: NoticeLine, headline: str, stage: Stage, post: Post, zone: str, at_utc: datetime
) -> EmailMessage:
    """Return the e-mail of a notice, without its recipient.

    The Message-ID is made here, once, and kept in the outbox: every later attempt at sending
    carries the same.
    """
    message = EmailMessage()
    message["From"] = post.sender
    message["Subject"] = SUBJECTS[stage] + headline
    message["Date"] = format_datetime(at_utc)
    message["Message-ID"] = make_msgid(domain=post.domain)
    message["Auto-Submitted"] = "auto-generated"
    message.set_content(notice_text(line, stage, post.base_url, zone), cte="quoted-printable")
    return message


def notice_text(line: NoticeLine, stage: Stage, base_url: str, zone: str) -> str:
    """Return the letter as plain text."""
    parts = [line.room_name, line.what]
    if stage is Stage.ENDED or line.ended_utc is not None:
        parts.append("This is over; nothing needs to be done now.")
    if line.sensor:
        seen = f"Seen by {line.sensor}"
        parts.append(
            f"{seen}, confirmed by {line.confirmed_by}." if line.confirmed_by else f"{seen}."
        )
    parts += [text for text in (line.felt, line.lead) if text]
    if line.works:
        works = [f"{i}. {work.title}: {work.reason}" for i, work in enumerate(line.works, 1)]
        parts.append("\n".join(["Look in this order:", *works]))
    if line.do_now and line.ended_utc is None:
        parts.append("\n".join(["Now:", *(f"- {step}" for step in line.do_now)]))
    if base_url:
        parts.append(base_url + notice_link(line.notice_id))
    parts.append(f"Since {wording.date_time(line.since_utc, zone)}. {CAUTION}")
    return "\n\n".join(parts) + "\n"

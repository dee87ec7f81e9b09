"""A notice as an e-mail: what a phone shows on one screen, as text and as HTML."""

from dataclasses import dataclass
from datetime import datetime
from email.message import EmailMessage
from email.utils import format_datetime, make_msgid
from enum import StrEnum

from dashboards import links, render
from dashboards.lines import NoticeLine
from dashboards.render import Letter
from dashboards.text.messages import N_, translated
from service.settings import Settings


class Stage(StrEnum):
    """Why a letter is written."""

    RAISED = "raised"
    CHANGED = "changed"
    ENDED = "ended"
    PAST = "past"
    UNSEEN = "unseen"
    CORRECTED = "corrected"


SUBJECTS = {
    Stage.RAISED: "",
    Stage.CHANGED: N_("Further: "),
    Stage.ENDED: N_("Over: "),
    Stage.PAST: N_("Past: "),
    Stage.UNSEEN: N_("Nobody has seen this yet: "),
    Stage.CORRECTED: "Corrected: ",
}


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
    """Return who is written to by the settings, or None where no mail server is set."""
    recipients = tuple(name.strip() for name in settings.mail_to.split(",") if name.strip())
    if not settings.smtp_host:
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
    message["Subject"] = translated(SUBJECTS[stage]) + headline
    message["Date"] = format_datetime(at_utc)
    message["Message-ID"] = make_msgid(domain=post.domain)
    message["Auto-Submitted"] = "auto-generated"
    address = post.base_url + links.notice(line.notice_id) if post.base_url else ""
    letter = Letter(zone=zone, notice=line, address=address)
    message.set_content(render.letter_text(letter), cte="quoted-printable")
    message.add_alternative(render.letter_html(letter), subtype="html", cte="quoted-printable")
    return message

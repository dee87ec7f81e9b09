"""Sends what waits in the outbox: late when the server is down, never lost, not doubled.

A letter is claimed, handed to the mail server, and marked as sent as soon as the server has said
that it took it. A server that is down or says no leaves the letter waiting, with a longer pause
after each attempt.

The honest limit: SMTP has no way to ask a server whether it already has a letter. A sender that
is killed in the moment between the server's "taken" and the mark sends that one letter once more,
when its claim has run out, under the same Message-ID, by which most mail systems show it once.
"""

import contextlib
import os
import smtplib
import socket
import ssl
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime
from email import message_from_string, policy
from typing import Protocol

from service.settings import Settings
from service.storage.outbox import Letter, claim_due, letters, mark_failed, mark_sent
from service.storage.register import Register, now_utc

# Problems of one letter; all others are the server's, and the next letter would meet them too.
ONE_LETTER = (
    smtplib.SMTPRecipientsRefused,
    smtplib.SMTPDataError,
    smtplib.SMTPNotSupportedError,
    ValueError,
)


class MailServer(Protocol):
    """Where letters are handed in."""

    def connection(self) -> contextlib.AbstractContextManager[Callable[[Letter], None]]:
        """Give a function that hands in one letter and returns once the server has taken it."""


@dataclass(frozen=True)
class SmtpServer:
    """A mail server reached by SMTP."""

    host: str
    port: int = 25
    sender: str = "stilltaut@localhost"
    user: str = ""
    password: str = ""
    starttls: bool = False
    timeout_s: float = 30.0

    @contextlib.contextmanager
    def connection(self) -> Iterator[Callable[[Letter], None]]:
        """Open one connection for several letters."""
        smtp = smtplib.SMTP(self.host, self.port, timeout=self.timeout_s)
        try:
            if self.starttls:
                smtp.starttls(context=ssl.create_default_context())
            if self.user:
                smtp.login(self.user, self.password)
            yield lambda letter: self._hand_in(smtp, letter)
        finally:
            with contextlib.suppress(smtplib.SMTPException, OSError):
                smtp.quit()
            smtp.close()

    def _hand_in(self, smtp: smtplib.SMTP, letter: Letter) -> None:
        message = message_from_string(letter.body, policy=policy.SMTP)
        smtp.send_message(message, from_addr=self.sender, to_addrs=[letter.recipient])


@dataclass(frozen=True)
class Sending:
    """What one round of sending came to."""

    sent: int
    waiting: int
    last_error: str = ""


def mail_server(settings: Settings) -> SmtpServer | None:
    """Return the mail server that is set, or None."""
    if not settings.smtp_host:
        return None
    return SmtpServer(
        host=settings.smtp_host,
        port=settings.smtp_port,
        sender=settings.mail_from,
        user=settings.smtp_user,
        password=settings.smtp_password,
        starttls=settings.smtp_starttls,
    )


def send_due(register: Register, server: MailServer, at: datetime | None = None) -> Sending:
    """Send every letter that is due, one claim at a time, and say how many still wait.

    Parameters
    ----------
    register : Register
        Where the outbox is.
    server : MailServer
        Where the letters go.
    at : datetime, optional
        The present; the clock's when left out.
    """
    me = f"{socket.gethostname()}/{os.getpid()}"
    sent, error = 0, ""
    while letter := _next(register, me, at):
        try:
            with server.connection() as hand_in:
                while letter is not None:
                    hand_in(letter)
                    mark_sent(register, letter.id, at)
                    sent += 1
                    letter = _next(register, me, at)
        except (OSError, smtplib.SMTPException, ValueError) as problem:
            error = _words(problem)
            if letter is not None:
                mark_failed(register, letter.id, error, at)
            if not isinstance(problem, ONE_LETTER):
                break
    return Sending(sent, len(letters(register, only_waiting=True)), error)


def _next(register: Register, me: str, at: datetime | None) -> Letter | None:
    # One at a time: a slow server must not let the claim on a whole batch run out.
    claimed = claim_due(register, me, at or now_utc(), limit=1)
    return claimed[0] if claimed else None


def _words(problem: Exception) -> str:
    if isinstance(problem, smtplib.SMTPRecipientsRefused):
        code, reason = next(iter(problem.recipients.values()))
        return f"the mail server refused the recipient: {code} {_text(reason)}"
    if isinstance(problem, smtplib.SMTPResponseException):
        return f"the mail server said {problem.smtp_code} {_text(problem.smtp_error)}"
    if isinstance(problem, ONE_LETTER):
        return f"the letter cannot be sent as it is: {problem}"
    return f"the mail server could not be reached: {problem}"


def _text(said: bytes | str) -> str:
    return said.decode("utf-8", "replace") if isinstance(said, bytes) else said

"""Letters through a real mail server that is stopped, started, slow and contrary."""

import signal
import socket
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from email.message import EmailMessage
from pathlib import Path
from typing import Any

import pytest
from aiosmtpd.controller import Controller
from aiosmtpd.smtp import AuthResult

from service.notices.sending import SmtpServer, mail_server, send_due
from service.settings import Settings
from service.storage.outbox import Letter, letters, queue_letter
from service.storage.register import Register, open_register

NOW = datetime(2026, 3, 22, 23, tzinfo=UTC)


class Mailbox:
    """What the server took, and how it behaves."""

    def __init__(self) -> None:
        self.taken: list[str] = []
        self.answer = "250 taken"
        self.answer_to: dict[str, str] = {}
        self.wait_s = 0.0

    async def handle_RCPT(
        self, server: Any, session: Any, envelope: Any, address: str, options: list[str]
    ) -> str:
        if address in self.answer_to:
            return self.answer_to[address]
        envelope.rcpt_tos.append(address)
        return "250 ok"

    async def handle_DATA(self, server: Any, session: Any, envelope: Any) -> str:
        import asyncio
        import email

        message = email.message_from_bytes(envelope.content)
        if self.answer.startswith("250"):
            self.taken.append(str(message["Message-ID"]))
        await asyncio.sleep(self.wait_s)
        return self.answer


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


class Post:
    """A mail server on one port, which can be stopped and started again."""

    def __init__(self) -> None:
        self.port = free_port()
        self.box = Mailbox()
        self.controller: Controller | None = None

    def start(self, **options: Any) -> None:
        self.controller = Controller(self.box, hostname="127.0.0.1", port=self.port, **options)
        self.controller.start()

    def stop(self) -> None:
        if self.controller is not None:
            self.controller.stop()
            self.controller = None

    @property
    def server(self) -> SmtpServer:
        return SmtpServer("127.0.0.1", self.port, "stilltaut@museum.invalid", timeout_s=5.0)


@pytest.fixture
def post() -> Iterator[Post]:
    office = Post()
    yield office
    office.stop()


@pytest.fixture
def register(tmp_path: Path) -> Iterator[Register]:
    opened = open_register(f"sqlite:///{tmp_path / 'register.db'}")
    yield opened
    opened.close()


def queue(register: Register, number: int, recipient: str = "duty@museum.invalid") -> str:
    message = EmailMessage()
    message["From"] = "stilltaut@museum.invalid"
    message["To"] = recipient
    message["Subject"] = f"North Gallery: humidity rose 14 %RH – {number}"
    message["Message-ID"] = f"<{number}@museum.invalid>"
    message.set_content("Look first at two prints; 3 °C – nothing else.\n", cte="quoted-printable")
    letter = Letter(
        f"key-{number}",
        recipient,
        str(message["Subject"]),
        message.as_string(),
        message_id=str(message["Message-ID"]),
    )
    queue_letter(register, letter, NOW)
    return letter.message_id


def test_a_letter_is_sent_once_and_marked(register: Register, post: Post) -> None:
    name = queue(register, 1)
    post.start()
    outcome = send_due(register, post.server, NOW)
    assert (outcome.sent, outcome.waiting, outcome.last_error) == (1, 0, "")
    assert send_due(register, post.server, NOW + timedelta(days=1)).sent == 0
    assert post.box.taken == [name]


def test_a_server_that_is_down_delays_and_loses_nothing(register: Register, post: Post) -> None:
    names = [queue(register, number) for number in range(3)]
    at = NOW
    pauses = []
    for _ in range(4):
        outcome = send_due(register, post.server, at)
        assert (outcome.sent, outcome.waiting) == (0, 3)
        assert "could not be reached" in outcome.last_error
        first = letters(register)[0]
        assert first.due_utc is not None
        pauses.append((first.due_utc - at).total_seconds())
        at = first.due_utc
    assert pauses[0] > 0
    assert len(set(pauses)) > 1
    post.start()
    assert send_due(register, post.server, at + timedelta(hours=2)).sent == 3
    assert sorted(post.box.taken) == sorted(names)


def test_stopped_between_letters_and_started_on_the_same_port(
    register: Register, post: Post
) -> None:
    post.start()
    names = [queue(register, 0)]
    send_due(register, post.server, NOW)
    post.stop()
    names.append(queue(register, 1))
    assert send_due(register, post.server, NOW).waiting == 1
    post.start()
    assert send_due(register, post.server, NOW + timedelta(hours=1)).sent == 1
    assert post.box.taken == names


def test_before_its_time_a_waiting_letter_is_left_alone(register: Register, post: Post) -> None:
    queue(register, 1)
    send_due(register, post.server, NOW)
    post.start()
    assert send_due(register, post.server, NOW + timedelta(seconds=1)).sent == 0
    assert send_due(register, post.server, NOW + timedelta(hours=1)).sent == 1


def test_a_server_that_says_no_is_asked_again(register: Register, post: Post) -> None:
    name = queue(register, 1)
    post.start()
    post.box.answer = "451 the disk is full"
    outcome = send_due(register, post.server, NOW)
    assert (outcome.sent, outcome.waiting) == (0, 1)
    assert "451 the disk is full" in outcome.last_error
    assert letters(register)[0].last_error == outcome.last_error
    post.box.answer = "250 taken"
    assert send_due(register, post.server, NOW + timedelta(hours=1)).sent == 1
    assert post.box.taken == [name]


def test_one_refused_recipient_does_not_hold_up_the_others(register: Register, post: Post) -> None:
    queue(register, 1, "gone@museum.invalid")
    name = queue(register, 2)
    post.start()
    post.box.answer_to = {"gone@museum.invalid": "550 nobody of that name"}
    outcome = send_due(register, post.server, NOW)
    assert (outcome.sent, outcome.waiting) == (1, 1)
    assert "550 nobody of that name" in outcome.last_error
    assert post.box.taken == [name]


def test_an_address_that_cannot_be_written_holds_up_nobody(register: Register, post: Post) -> None:
    queue(register, 1, "wärter@museum.invalid")
    name = queue(register, 2)
    post.start(enable_SMTPUTF8=False)
    outcome = send_due(register, post.server, NOW)
    assert (outcome.sent, outcome.waiting) == (1, 1)
    assert "cannot be sent as it is" in letters(register, only_waiting=True)[0].last_error
    assert post.box.taken == [name]


def test_queueing_the_same_letter_twice_sends_it_once(register: Register, post: Post) -> None:
    queue(register, 1)
    queue(register, 1)
    post.start()
    assert send_due(register, post.server, NOW).sent == 1


def test_a_claimed_letter_is_not_sent_by_a_second_sender(register: Register, post: Post) -> None:
    from service.storage.outbox import claim_due

    queue(register, 1)
    claim_due(register, "another", NOW)
    post.start()
    assert send_due(register, post.server, NOW).sent == 0
    assert send_due(register, post.server, NOW + timedelta(minutes=6)).sent == 1


SENDER = """
import sys
from datetime import datetime
from service.notices.sending import SmtpServer, send_due
from service.storage.register import open_register
register = open_register(sys.argv[1])
print("ready", flush=True)
server = SmtpServer("127.0.0.1", int(sys.argv[2]), "stilltaut@museum.invalid")
send_due(register, server, datetime.fromisoformat(sys.argv[3]))
"""


@pytest.mark.long
def test_a_killed_sender_loses_nothing_and_doubles_only_what_was_in_hand(
    tmp_path: Path, register: Register, post: Post
) -> None:
    url = f"sqlite:///{tmp_path / 'register.db'}"
    names = [queue(register, number) for number in range(12)]
    post.box.wait_s = 0.04
    post.start()
    at, kills = NOW, 0
    for pause_s in (0.0, 0.05, 0.10, 0.16):
        command = [sys.executable, "-c", SENDER, url, str(post.port), at.isoformat()]
        with subprocess.Popen(command, stdout=subprocess.PIPE) as sender:
            assert sender.stdout is not None
            assert sender.stdout.readline() == b"ready\n"
            time.sleep(pause_s)
            sender.send_signal(signal.SIGKILL)
            kills += sender.wait() == -signal.SIGKILL
        at += timedelta(minutes=6)
    post.box.wait_s = 0.0
    send_due(register, post.server, at)
    assert kills > 0
    taken = Counter(post.box.taken)
    assert set(taken) == set(names)
    assert sum(taken.values()) - len(names) <= kills
    assert all(letter.sent_utc is not None for letter in letters(register))


@pytest.mark.filterwarnings("ignore:Requiring AUTH while not requiring TLS")
def test_a_server_that_wants_a_password(register: Register) -> None:
    box, port = Mailbox(), free_port()
    office = Controller(
        box,
        hostname="127.0.0.1",
        port=port,
        authenticator=lambda server, session, envelope, mechanism, data: AuthResult(
            success=(data.login, data.password) == (b"museum", b"right"), handled=False
        ),
        auth_required=True,
        auth_require_tls=False,
    )
    office.start()
    try:
        name = queue(register, 1)
        wrong = SmtpServer("127.0.0.1", port, "stilltaut@museum.invalid", "museum", "wrong")
        assert "535" in send_due(register, wrong, NOW).last_error
        right = SmtpServer("127.0.0.1", port, "stilltaut@museum.invalid", "museum", "right")
        assert send_due(register, right, NOW + timedelta(hours=1)).sent == 1
    finally:
        office.stop()
    assert box.taken == [name]


def test_settings_name_the_server() -> None:
    assert mail_server(Settings()) is None
    server = mail_server(Settings(smtp_host="mail.invalid", smtp_port=2525, smtp_user="u"))
    assert server is not None
    assert (server.host, server.port, server.user) == ("mail.invalid", 2525, "u")

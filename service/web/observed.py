"""What whoever runs the service sees of it: a number for each request, its log, its figures.

A log line and a figure name the kind of address, never the address itself: addresses hold works,
rooms and links that let somebody in.
"""

import itertools
import logging
import re
import time
import uuid
from contextlib import suppress
from pathlib import Path

from prometheus_client import (
    CollectorRegistry,
    Counter,
    Histogram,
    generate_latest,
    multiprocess,
    values,
)
from prometheus_client.core import GaugeMetricFamily
from prometheus_client.registry import Collector
from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from service.errors import StoreError
from service.log_lines import numbered
from service.storage.job_records import JobState, jobs_of
from service.storage.notices import open_notices
from service.storage.objects.named import Objects
from service.storage.outbox import letters
from service.storage.register import Register, now_utc
from service.web.permissions import permission

log = logging.getLogger("service.requests")
NUMBER = "x-request-id"
SOUND = re.compile(r"[A-Za-z0-9._-]{8,64}")
OTHER = "none"
COUNTED = Counter(
    "stilltaut_requests", "Requests answered, by kind of address and status",
    ["method", "address", "status"],
)  # fmt: skip
TOOK = Histogram(
    "stilltaut_request_seconds", "How long answers took [s]", ["address"],
    buckets=(0.05, 0.2, 0.5, 1.0, 2.0, 5.0, 20.0),
)  # fmt: skip


class Observed:
    """ASGI middleware: gives each request a number, logs and counts it."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app
        self._first, self._numbers = uuid.uuid4().hex, itertools.count(1)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, and note what came of it."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        given = Headers(scope=scope).get(NUMBER, "")
        number = given if SOUND.fullmatch(given) else f"{self._first}-{next(self._numbers)}"
        began, status, noted = time.perf_counter(), 500, False

        def note() -> None:
            nonlocal noted
            if not noted:
                _note(scope, status, time.perf_counter() - began)
            noted = True

        async def with_number(message: Message) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
                MutableHeaders(scope=message)[NUMBER] = number
            elif not message.get("more_body", False):
                note()  # before whoever asked knows that it is over
            await send(message)

        with numbered(number):
            try:
                await self._app(scope, receive, with_number)
            finally:
                note()


def _note(scope: Scope, status: int, took_s: float) -> None:
    method, address = scope["method"], kind_of_address(scope["method"], scope["path"])
    COUNTED.labels(method if address != OTHER else OTHER, address, status).inc()
    TOOK.labels(address).observe(took_s)
    facts = {"method": method, "address": address, "status": status, "took_s": round(took_s, 3)}
    log.info("%s %s %d", method, address, status, extra={"facts": facts})


def kind_of_address(method: str, path: str) -> str:
    """Return under which name an address is noted.

    Examples
    --------
    >>> kind_of_address("GET", "/works/17"), kind_of_address("GET", "/welcome/secret")
    ('/works/{work_id:name}', '/welcome/{link}')
    >>> kind_of_address("GET", "/static/app.css"), kind_of_address("PUT", "/a/b")
    ('/static', 'none')
    """
    if path.startswith("/static/"):
        return "/static"
    found = permission(method, path)
    return found.template if found else OTHER


class _OfTheRegister(Collector):
    """Figures that are the same whichever process is asked."""

    def __init__(self, register: Register) -> None:
        self._register = register

    def collect(self) -> list[GaugeMetricFamily]:
        """Return how much waits."""
        jobs = GaugeMetricFamily("stilltaut_jobs", "Files in hand, by state", labels=["state"])
        for state in (JobState.PREVIEW, JobState.WAITING, JobState.RUNNING, JobState.FAILED):
            jobs.add_metric([state], len(jobs_of(self._register, states=[state])))
        waiting = letters(self._register, only_waiting=True)
        late = min((one.queued_utc for one in waiting if one.queued_utc), default=None)
        waits_s = (now_utc() - late).total_seconds() if late else 0.0
        notices = open_notices(self._register)
        return [
            jobs,
            GaugeMetricFamily("stilltaut_letters_waiting", "Letters not yet sent", len(waiting)),
            GaugeMetricFamily(
                "stilltaut_letters_waiting_seconds", "How long the oldest has waited [s]", waits_s
            ),
            GaugeMetricFamily("stilltaut_notices_open", "Notices that are open", len(notices)),
            GaugeMetricFamily(
                "stilltaut_notices_unseen", "Open notices that nobody has seen",
                sum(not one.seen_by for one in notices),
            ),
        ]  # fmt: skip


def figures(register: Register) -> bytes:
    """Return the figures in the text form that Prometheus reads, over all processes."""
    registry = CollectorRegistry()
    if values.ValueClass is not values.MutexValue:
        multiprocess.MultiProcessCollector(registry)  # type: ignore[no-untyped-call]
    else:
        registry.register(COUNTED)
        registry.register(TOOK)
    registry.register(_OfTheRegister(register))
    return generate_latest(registry)


def not_ready(register: Register, folder: Path, objects: Objects, *, jobs_alive: bool) -> list[str]:
    """Return why the service cannot do its work; none when it can."""
    found = [] if jobs_alive else ["files are not taken in"]
    with suppress(Exception):
        with register.writing():
            pass
        return found + _not_written(folder) + _not_answering(objects)
    return [*found, "the register cannot be written"]


def _not_answering(objects: Objects) -> list[str]:
    try:
        objects.exists("ready")
    except StoreError:
        return ["the store of files does not answer"]
    return []


def _not_written(folder: Path) -> list[str]:
    probe = folder / f".ready-{uuid.uuid4().hex}"
    try:
        probe.touch()
        probe.unlink()
    except OSError:
        return ["the data folder cannot be written"]
    return []

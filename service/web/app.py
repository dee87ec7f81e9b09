"""The web application: `create_app(settings)`; importing this reads nothing and opens nothing."""

import contextlib
import time
from collections.abc import AsyncIterator, Callable, Iterator
from contextlib import AbstractContextManager
from functools import cache
from pathlib import Path

from fastapi import APIRouter, FastAPI
from fastapi.middleware.gzip import GZipMiddleware
from fastapi.routing import iter_route_contexts
from fastapi.staticfiles import StaticFiles
from starlette.routing import BaseRoute

from analysis.records.room_records import Room
from service.answers.hanging_jobs import PLAN_HANGING, hanging_work
from service.answers.museum import Museum
from service.intake.closed_years import ClosingYears
from service.intake.files_in_hand import TAKE_IN, take_in_work
from service.intake.taking_in import Finishing, finish_received
from service.intake.watched_folder import WatchedFolder
from service.jobs import Jobs, Round
from service.notices.due import Watch
from service.notices.follow_up import FollowingUp
from service.settings import Settings
from service.storage.durable import make_folder
from service.storage.stores import Stores
from service.web.doors import Doors, known_hosts
from service.web.drawn_pages import AsDrawn, DrawnPages
from service.web.observed import Observed
from service.web.problems import install_problem_pages
from service.web.request_moment import RequestsInSiteLocale
from service.web.routes import (
    accounts,
    air,
    api,
    bring_in,
    changes,
    classes,
    gateway,
    guides,
    half_time,
    house_sign_in,
    incidents,
    inspections,
    journeys,
    measure,
    notices,
    planning,
    recipients,
    register_house,
    register_rooms,
    register_works,
    reports,
    running,
    sheets,
    sign_in,
    statements,
    week,
    works,
)
from service.web.senders import Senders
from service.web.unchanged import Unchanged
from service.web.visitors import CHECKED, Visitors, require_safe_settings

# The register's forms and the room's air come before the pages of a work and of a room's weeks,
# whose addresses would take them for a work or a week.
PAGES = (
    register_works,
    register_house,
    register_rooms,
    journeys,
    air,
    week,
    works,
    half_time,
    incidents,
    inspections,
    measure,
    bring_in,
    classes,
    recipients,
    notices,
    planning,
    guides,
    sign_in,
    house_sign_in,
    accounts,
    changes,
    statements,
    reports,
    running,
    sheets,
)


# Whoever asks right after the start has the processor to himself.
WARM_UP_AFTER_S = 10.0
Turn = Callable[[], AbstractContextManager[bool]]


def create_app(
    settings: Settings,
    *,
    turn: Turn = lambda: contextlib.nullcontext(True),
    following: Turn = lambda: contextlib.nullcontext(True),
    create: bool = True,
) -> FastAPI:
    """Return the application for one museum's stores.

    Parameters
    ----------
    settings : Settings
        The site's settings.
    turn : callable
        Entered to work something out before anybody asks for it; says whether it may be done now.
        Houses that are served together take turns.
    following : callable
        The same for what follows from changes: its turns are its own, so that nothing that can wait
        keeps a notice from being found.
    create : bool
        Whether a folder that is missing is made.

    Raises
    ------
    StilltautError
        If it would be open to others, or anybody could read what is sent.
    """
    require_safe_settings(settings)

    @contextlib.asynccontextmanager
    async def lifespan(app: FastAPI) -> AsyncIterator[None]:
        if create:
            make_folder(settings.data_dir)  # of a new house whose register stands elsewhere
        with Stores.open(settings, create=create) as stores:
            finish_received(stores)
            museum = app.state.museum = Museum(stores, settings)
            app.state.drawn = DrawnPages()
            jobs = app.state.jobs = Jobs(
                stores.register,
                {TAKE_IN: take_in_work(museum), PLAN_HANGING: hanging_work(museum)},
                [
                    Finishing(stores),
                    *_watched(museum),
                    *_rounds(museum, turn, following),
                ],
            )
            jobs.start()
            with _watch(museum):
                try:
                    yield
                finally:
                    jobs.close()

    app = FastAPI(
        title="stilltaut",
        description="Is it still taut? From room air to an answer for each work.",
        lifespan=lifespan,
        docs_url=None,
        redoc_url=None,
        openapi_url="/api/openapi.json",
    )
    app.mount("/static", StaticFiles(packages=[("dashboards", "static")]), name="static")
    app.router.routes.extend(_routes())
    pass_every_request_through(app, settings)
    return app


def pass_every_request_through(app: FastAPI, settings: Settings) -> None:
    """Add what each request passes before it comes to a page, the outermost last."""
    install_problem_pages(app)
    app.add_middleware(Senders, upload_limit_mb=settings.upload_limit_mb)
    app.add_middleware(AsDrawn)
    app.add_middleware(Visitors, settings=settings)
    app.add_middleware(RequestsInSiteLocale)
    app.add_middleware(Unchanged)
    app.add_middleware(GZipMiddleware, minimum_size=1000, compresslevel=5)
    app.add_middleware(Doors, hosts=known_hosts(settings))
    app.add_middleware(Observed)


@cache
def _routes() -> tuple[BaseRoute, ...]:
    """Return every route, the same for every museum."""
    router = APIRouter(dependencies=CHECKED)
    for pages in PAGES:
        router.include_router(pages.router, include_in_schema=False)
    router.include_router(gateway.pages, include_in_schema=False)
    router.include_router(api.router)
    router.include_router(gateway.router)
    return made_ready(router)


def made_ready(router: APIRouter) -> tuple[BaseRoute, ...]:
    """Return the routes of a router, each made ready before requests and jobs run side by side."""
    for _ in iter_route_contexts(router.routes):
        pass
    return tuple(router.routes)


def _watched(museum: Museum) -> list[WatchedFolder]:
    """Return the folder from which files are taken in by themselves, where one is set."""
    folder = museum.settings.watch_dir
    return [WatchedFolder(museum, Path(folder))] if folder else []


def _rounds(museum: Museum, turn: Turn, following: Turn) -> list[Round]:
    """Return what is done of itself while no file waits, that which follows a change first."""
    closing = ClosingYears(museum.stores.readings, museum.clock)
    warming = WarmingUp(museum, WARM_UP_AFTER_S)
    return [_in_turn(FollowingUp(museum), following), _in_turn(warming, turn), closing]


def _in_turn(work: Round, turn: Turn) -> Round:
    """Return a round that is left out where it is not its turn; it is tried again soon."""

    def worked(interrupted: Callable[[], bool]) -> None:
        with turn() as free:
            if free:
                work(interrupted)

    return worked


@contextlib.contextmanager
def _watch(museum: Museum) -> Iterator[None]:
    """Do what is due by the clock for as long as the pages are served."""
    watch = Watch(museum)
    watch.start()
    try:
        yield
    finally:
        watch.stop()


# The latest week worked out before anybody asks for it, so that the first page comes at once.


class WarmingUp:
    """Works out the latest week of every room, again whenever something has changed.

    Parameters
    ----------
    museum : Museum
        What to warm up.
    after_s : float
        How long after the start to begin: those who ask at once do not share the processor with it.
    """

    def __init__(self, museum: Museum, after_s: float = 0.0) -> None:
        self._museum = museum
        self._warm_at = -1
        self._begins = time.monotonic() + after_s

    def __call__(self, interrupted: Callable[[], bool]) -> None:
        """Work out what the first page shows, and break off between two rooms when asked to."""
        newest = self._museum.versions().newest
        if newest == self._warm_at or time.monotonic() < self._begins:
            return
        if interrupted():
            return
        with contextlib.closing(
            self._museum.engine.ahead(self._latest_week, self._museum.rooms())
        ) as each:
            for _done in each:
                if interrupted():
                    return
        self._warm_at = newest

    def _latest_week(self, room: Room) -> None:
        self._museum.told(room.room)
        if week := self._museum.week_of_room(room.room):
            self._museum.room_week(room.room, week)

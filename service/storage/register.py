"""The register's database: opening it, and one transaction at a time."""

import contextlib
import time
from collections.abc import Callable, Hashable, Iterator
from contextvars import ContextVar
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, TypeVar

from sqlalchemy import Connection, create_engine, event, func, select
from sqlalchemy.engine import Engine, make_url
from sqlalchemy.exc import DatabaseError, DBAPIError, IntegrityError
from sqlalchemy.orm import Session

from service.errors import StoreError
from service.storage import migrate
from service.storage.durable import make_folder
from service.storage.moments import Moment, RegisterState

BUSY_S = 30.0
MADE_S = 1.0  # within so long a register that is being made has its first page
# Any fixed number other than that of the schema's steps.
POSTGRESQL_WRITER = 5712
Found = TypeVar("Found")


def now_utc() -> datetime:
    """Return the time now, as it is written into the register."""
    return datetime.now(UTC)


class Register:
    """The register. The modules beside this one hold its functions, one noun each.

    Parameters
    ----------
    engine : sqlalchemy.Engine
        Made by `open_register`.

    ``refuses_to_write`` holds why nothing may be written and what to do, or None: see
    `service.storage.site_clock`.
    """

    def __init__(self, engine: Engine) -> None:
        self.engine = engine
        self.refuses_to_write: tuple[str, str] | None = None
        self._current: ContextVar[Session | None] = ContextVar("session", default=None)
        self.state = RegisterState(engine)
        self._moment: ContextVar[Moment | None] = ContextVar("moment", default=None)

    @contextlib.contextmanager
    def one_moment(self, moment: Moment | None = None) -> Iterator[None]:
        """Ask only once within for what `at_this_moment` is given: it is as when first asked for.

        For an answer that changes nothing: its parts are then made from one state of the register.
        Whatever is written meanwhile from here is asked for anew. Given `RegisterState.moment`,
        what was read before while the register was the same is not read again.
        """
        token = self._moment.set(moment or Moment())
        try:
            yield
        finally:
            self._moment.reset(token)

    def at_this_moment(self, name: Hashable, read: Callable[[], Found]) -> Found:
        """Return what is read, or within `one_moment` what was read first under that name.

        It must rest on the register alone, on no clock, and is shared: nobody may change it.
        """
        moment = self._moment.get()
        if moment is None or self._current.get() is not None:
            return read()
        known = moment.known
        if name not in known:
            known[name] = read()
        found: Found = known[name]
        return found

    def knows(self, name: Hashable) -> bool:
        """Whether `at_this_moment` would read nothing for that name."""
        moment = self._moment.get()
        return moment is not None and self._current.get() is None and name in moment.known

    @contextlib.contextmanager
    def reading(self) -> Iterator[Session]:
        """Give a consistent view; joins the transaction that is already open, if there is one."""
        current = self._current.get()
        if current is not None:
            yield current
            return
        try:
            with Session(self.engine) as session:
                yield session
        except DBAPIError as problem:
            raise _refused(problem) from problem

    @contextlib.contextmanager
    def writing(self) -> Iterator[Session]:
        """Give a transaction: all of it happens or none. Joins the one already open.

        Raises
        ------
        StoreError
            If the register refuses a row or cannot be written.
        """
        current = self._current.get()
        if current is not None:
            yield current
            current.flush()
            return
        self.require_writable()
        with Session(self.engine.execution_options(writes=True)) as session:
            token = self._current.set(session)
            try:
                with session.begin():
                    self._queue_up(session)
                    yield session
            except DBAPIError as problem:
                raise _refused(problem) from problem
            finally:
                self._current.reset(token)
                if (moment := self._moment.get()) is not None:
                    moment.known = {}

    def require_writable(self) -> None:
        """Raise `StoreError` where nothing may be written or sent."""
        if self.refuses_to_write is not None:
            found, action = self.refuses_to_write
            raise StoreError(
                read="register",
                where="declared clock",
                found=found,
                expected="a folder that was, since what is written would be dated wrong",
                action=action,
            )

    @contextlib.contextmanager
    def within(self) -> Iterator[Session]:
        """Give a part of the transaction that is open, which is undone by itself where it fails.

        Raises
        ------
        StoreError
            If the register refuses a row; the rest of the transaction stays.
        """
        with self.writing() as session:
            try:
                with session.begin_nested():
                    yield session
            except DBAPIError as problem:
                raise _refused(problem) from problem

    def _queue_up(self, session: Session) -> None:
        """Let one writer in at a time; SQLite does so by itself when the transaction begins."""
        if self.engine.dialect.name == "postgresql":
            session.execute(select(func.pg_advisory_xact_lock(POSTGRESQL_WRITER)))

    def faults(self) -> list[str]:
        """Return what the database itself finds wrong in it; one line each, none when sound."""
        if self.engine.dialect.name != "sqlite":
            return []  # a server checks its pages and references itself
        with self.engine.connect() as connection:
            pages = connection.exec_driver_sql("PRAGMA integrity_check").scalars()
            lost = connection.exec_driver_sql("PRAGMA foreign_key_check").all()
            return [str(line) for line in pages if line != "ok"] + [
                f"row {row[1]} of {row[0]} names a row of {row[2]} that is not there"
                for row in lost
            ]

    def close(self) -> None:
        """Close all connections."""
        self.state.close()
        self.engine.dispose()


def _refused(problem: DBAPIError) -> StoreError:
    known = isinstance(problem, IntegrityError)
    return StoreError(
        read="register",
        where="",
        found=str(problem.orig).splitlines()[0],
        expected="facts that fit those already there" if known else "a register to write to",
        action="Check that the names used exist and are not taken; nothing was changed."
        if known
        else "Check the disk and the database server, then do the same again.",
    )


def open_register(url: str, *, create: bool = True) -> Register:
    """Open the register, brought up to this release.

    Parameters
    ----------
    url : str
        ``sqlite:///path/register.db`` or ``postgresql://user@host/name``.
    create : bool
        Whether a missing SQLite register is made.

    Raises
    ------
    StoreError
        If it is missing (and not to be made), an empty file, from a newer release, or cannot be
        upgraded.
    """
    engine = make_engine(url)
    file = migrate.sqlite_file(engine)
    if file is not None and not file.exists():
        if not create:
            raise _missing(str(file))
        make_folder(file.absolute().parent)
    elif file is not None and not _filled(file):
        raise _empty(str(file))
    try:
        if file is not None and file.exists():
            _require_sound(engine, str(file))
        migrate.upgrade(engine)
    except DBAPIError as problem:
        raise _refused(problem) from problem
    return Register(engine)


def _require_sound(engine: Engine, file: str) -> None:
    """Refuse a damaged file before anything is read from it or written into it."""
    try:
        with engine.connect() as connection:
            found = connection.exec_driver_sql("PRAGMA quick_check(1)").scalar()
    except DatabaseError as problem:
        if "locked" in str(problem.orig):
            raise
        found = str(problem.orig)
    if found != "ok":
        raise StoreError(
            read=file,
            where="",
            found=f"a damaged register: {str(found).splitlines()[-1]}",
            expected="the register as it was written",
            action="Put the newest copy of the data folder in its place, or read the newest "
            "archive back into an empty folder (stilltaut restore). Nothing was changed; the "
            "files as they were brought in are still among the originals.",
        )


def _filled(file: Path) -> bool:
    """Whether a register's file holds anything, given a moment: another may be making it."""
    until = time.monotonic() + MADE_S
    while not file.stat().st_size:
        if time.monotonic() > until:
            return False
        time.sleep(0.02)
    return True


def _missing(file: str) -> StoreError:
    return StoreError(
        read=file,
        where="",
        found="no register",
        expected="the data folder of a museum",
        action="Name the right folder with --data, or take in a first file to make it.",
    )


def _empty(file: str) -> StoreError:
    return StoreError(
        read=file,
        where="",
        found="an empty file in place of a register",
        expected="the register of a museum, or no file at all where none was begun",
        action="Put a copy of the register in its place. Only where no museum was ever begun "
        "here, remove the empty file; a new register is made then. Nothing was changed.",
    )


def make_engine(url: str) -> Engine:
    """Return the engine for a register's URL; connects to nothing yet."""
    address = make_url(url)
    if address.get_backend_name() == "postgresql":
        return create_engine(address.set(drivername="postgresql+psycopg"))
    engine = create_engine(address, connect_args={"timeout": BUSY_S})
    event.listen(engine, "connect", _prepare_sqlite)
    event.listen(engine, "begin", _begin_sqlite)
    return engine


def _prepare_sqlite(connection: Any, _: Any) -> None:
    # The driver's own transactions would commit before a schema step; ours begin below.
    connection.isolation_level = None
    for setting in ("journal_mode=WAL", "synchronous=FULL", "foreign_keys=ON"):
        connection.execute("PRAGMA " + setting)


def _begin_sqlite(connection: Connection) -> None:
    writes = connection.get_execution_options().get("writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

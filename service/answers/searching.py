"""One search over the house: works, rooms, loggers, incidents, climate statements."""

from collections.abc import Iterator
from itertools import chain, islice

from dashboards import links
from dashboards.lines import FoundLine
from dashboards.text.messages import _
from service.answers.lenders_statements import statement_lines
from service.answers.museum import Museum
from service.storage.incidents import incidents
from service.storage.loggers import loggers
from service.storage.works import work_records

MOST = 100


def found_lines(museum: Museum, asked: str) -> tuple[FoundLine, ...]:
    """Return what holds every word that is asked for, works first; at most a hundred."""
    words = asked.casefold().split()
    if not words:
        return ()
    every = chain(
        _works(museum), _rooms(museum), _loggers(museum), _incidents(museum), _statements(museum)
    )
    found = (one for one in every if all(w in f"{one.name} {one.number}".casefold() for w in words))
    return tuple(islice(found, MOST))


def _works(museum: Museum) -> Iterator[FoundLine]:
    for work_id, record in work_records(museum.stores.register).items():
        yield FoundLine(_("work"), record.print.title, work_id, links.work(work_id))


def _rooms(museum: Museum) -> Iterator[FoundLine]:
    measured = {room.room for room in museum.rooms()}
    for room in museum.every_room():
        at = links.room(room.room) if room.room in measured else links.room_record(room.room)
        yield FoundLine(_("room"), room.name, room.room, at)


def _loggers(museum: Museum) -> Iterator[FoundLine]:
    for one in loggers(museum.stores.register):
        yield FoundLine(_("logger"), one.shown, one.logger, links.instruments(one.logger))


def _incidents(museum: Museum) -> Iterator[FoundLine]:
    """Yield incidents, by where they were, what was noticed, their cause and their lesson."""
    names = {room.room: room.name for room in museum.every_room()}
    for one in incidents(museum.stores.register):
        told = (names.get(one.room, one.room), one.noticed, one.cause, one.lesson)
        name = ": ".join(filter(None, told))
        yield FoundLine(_("incident"), name, str(one.id), links.incident(one.id))


def _statements(museum: Museum) -> Iterator[FoundLine]:
    for one, _newer in statement_lines(museum):
        number = str(one.facts["number"])
        yield FoundLine(_("climate statement"), one.facts["title"], number, links.statement(one.id))

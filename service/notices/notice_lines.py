"""Notices of the register as the lines that pages print."""

from dashboards.lines import NoticeLine
from service.answers.museum import Museum
from service.notices.lines import notice_line
from service.storage import places
from service.storage.notices import Notice, notices


def notice_lines(museum: Museum, room_id: str | None = None) -> tuple[NoticeLine, ...]:
    """Return all notices, newest first, of one room or of all."""
    names = {room.room: room.name for room in places.rooms(museum.stores.register)}
    found = notices(museum.stores.register, room_id)
    return tuple(notice_line(one, names.get(one.room, one.room)) for one in found)


def open_lines(museum: Museum, room_id: str | None = None) -> list[NoticeLine]:
    """Return the notices that have not ended, newest first."""
    return [line for line in notice_lines(museum, room_id) if line.ended_utc is None]


def named(notices_: tuple[Notice, ...], notice_id: str) -> Notice | None:
    """Return the notice of that number, or None."""
    return next((one for one in notices_ if str(one.id) == notice_id), None)

"""What is taken away: sheets of paper, labels with codes, tables as CSV and XLSX."""

from datetime import datetime

from fastapi import APIRouter, Request
from fastapi.responses import Response

from dashboards import links
from dashboards.lines import Choice
from dashboards.sheets.exposure_sheet import exposure_answer, exposure_sheet, exposure_table
from dashboards.sheets.labels import Label, label_sheet
from dashboards.sheets.round_sheet import round_sheet
from dashboards.sheets.typesetting import sheet_pdf
from dashboards.text import wording
from dashboards.text.dates import month_of
from dashboards.text.messages import _
from dashboards.text.sentences import round_sentence
from service.answers.museum import Museum
from service.answers.rounds import round_lines
from service.storage.loggers import loggers
from service.storage.works import work_record
from service.tables.register_tables import changes_table, uploads_table
from service.tables.taken_away import ahead_table, house_table, week_table, work_table, year_table
from service.web.routes.common import MuseumDep, sent_file, sent_table
from service.web.routes.works import inspection_lines

router = APIRouter()
WEEKS = 57  # thirteen months: a year and the month that it is compared with


@router.get("/round.pdf")
def round_on_paper(museum: MuseumDep, room: str = "") -> Response:
    """Send the round, of one room or of all, to be walked with a pencil."""
    now = museum.now()
    lists = round_lines(museum, now, room or None)
    every = [line.judgement for lines in lists.values() for line in lines]
    rooms = [Choice(one.room, one.name, one.room == room) for one in museum.rooms()]
    found = round_sheet(lists, rooms, now, museum.zone, round_sentence(every, museum.zone))
    return sent_file(sheet_pdf(found), f"round-{room or museum.site.site}.pdf")


@router.get("/labels/works.pdf")
def labels_of_works(request: Request, museum: MuseumDep, room: str = "") -> Response:
    """Send a label for the back of each frame, of one room or of all."""
    home = _home(museum, request)
    lists = round_lines(museum, museum.now(), room or None)
    works = [line.judgement.work for lines in lists.values() for line in lines]
    made = [
        Label(one.title, one.work_id, _("work"), home + links.work(one.work_id))
        for one in sorted(works, key=lambda work: work.work_id)
    ]
    return sent_file(sheet_pdf(label_sheet(made, museum.site.name)), "labels-works.pdf")


@router.get("/labels/loggers.pdf")
def labels_of_loggers(request: Request, museum: MuseumDep) -> Response:
    """Send a label for each logger."""
    home = _home(museum, request)
    made = [
        Label(one.shown, one.logger, _("logger"), home + links.instruments(one.logger))
        for one in loggers(museum.stores.register)
    ]
    return sent_file(sheet_pdf(label_sheet(made, museum.site.name)), "labels-loggers.pdf")


@router.get("/works/{work_id:name}/exposure.pdf")
def exposure(museum: MuseumDep, work_id: str) -> Response:
    """Send what a work has been exposed to, month by month."""
    found, zone = museum.work_over(work_id, WEEKS), museum.zone
    looks = [one for one in inspection_lines(museum, work_id) if not one.withdrawn]
    table = exposure_table(found.history, looks, zone, _rooms_by_month(museum, work_id))
    made = _("as of {when}", when=wording.when(museum.now(), zone))
    answer = exposure_answer(found.history)
    sheet = exposure_sheet(found.work, table, answer, museum.site.name, made)
    return sent_file(sheet_pdf(sheet), f"exposure-{work_id}.pdf")


@router.get("/tables/changes.{ending}")
def table_of_changes(museum: MuseumDep, ending: str, work: str = "", room: str = "") -> Response:
    """Send who changed what: everywhere, of one work, or of one room."""
    return sent_table(museum, changes_table(museum, work, room), ending)


@router.get("/tables/uploads.{ending}")
def table_of_uploads(museum: MuseumDep, ending: str) -> Response:
    """Send every file that was brought in."""
    return sent_table(museum, uploads_table(museum), ending)


@router.get("/tables/{what}.{ending}")
def table_of_the_house(museum: MuseumDep, what: str, ending: str) -> Response:
    """Send a table of the house: the round, notices, works, instruments and more."""
    return sent_table(museum, house_table(museum, what), ending)


@router.get("/tables/rooms/{room_id:name}/{iso_week}/{what}.{ending}")
def table_of_a_week(
    museum: MuseumDep, room_id: str, iso_week: str, what: str, ending: str
) -> Response:
    """Send what a room's week is drawn from: its air, or the hours of its works."""
    return sent_table(museum, week_table(museum.room_week(room_id, iso_week), what), ending)


@router.get("/tables/rooms/{room_id:name}/year.{ending}")
def table_of_a_year(museum: MuseumDep, room_id: str, ending: str) -> Response:
    """Send the hours of a room's last year, of which its pictures are made."""
    return sent_table(museum, year_table(museum, room_id), ending)


@router.get("/tables/rooms/{room_id:name}/days.{ending}")
def table_of_days_to_come(museum: MuseumDep, room_id: str, ending: str, what: str = "") -> Response:
    """Send the hours to come of a room, as it is run or with a change."""
    return sent_table(museum, ahead_table(museum, room_id, what), ending)


@router.get("/tables/works/{work_id:name}/hours.{ending}")
def table_of_a_work(museum: MuseumDep, work_id: str, ending: str) -> Response:
    """Send the hours of one work, as far back as thirteen months."""
    return sent_table(museum, work_table(museum, work_id), ending)


def _home(museum: Museum, request: Request) -> str:
    return (museum.settings.base_url or str(request.base_url)).rstrip("/")


def _rooms_by_month(museum: Museum, work_id: str) -> dict[tuple[int, int], str]:
    """Return in which rooms a work hung, by local year and month."""
    names = {room.room: room.name for room in museum.every_room()}
    found: dict[tuple[int, int], list[str]] = {}
    for stay in work_record(museum.stores.register, work_id).hangings:
        if stay.from_utc is None:
            continue
        at, last = stay.from_utc, stay.to_utc or museum.now()
        for month in _months(at, last, museum.zone):
            here = found.setdefault(month, [])
            if names.get(stay.room, stay.room) not in here:
                here.append(names.get(stay.room, stay.room))
    return {month: ", ".join(rooms) for month, rooms in found.items()}


def _months(first_utc: datetime, last_utc: datetime, zone: str) -> list[tuple[int, int]]:
    (year, month), (last_year, last_month) = (month_of(at, zone) for at in (first_utc, last_utc))
    count = 12 * (last_year - year) + last_month - month
    numbers = [month - 1 + n for n in range(count + 1)]
    return [(year + n // 12, n % 12 + 1) for n in numbers]

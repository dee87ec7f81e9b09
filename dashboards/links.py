"""The one place that makes addresses, for templates, letters and routes alike."""

from urllib.parse import quote, urlencode

from dashboards.paper_links import (
    crate_form as crate_form,
    exposure as exposure,
    house_table as house_table,
    journey as journey,
    journey_sheet as journey_sheet,
    logger_labels as logger_labels,
    new_statement as new_statement,
    part as _part,
    report as report,
    report_sheet as report_sheet,
    round_sheet as round_sheet,
    statement as statement,
    statement_sheet as statement_sheet,
    statements as statements,
    week_table as week_table,
    work_labels as work_labels,
    work_table as work_table,
)


def this_week(iso_week: str | None = None) -> str:
    """Return the address of the page of all rooms."""
    return f"/?{urlencode({'week': iso_week})}" if iso_week else "/"


def room(room_id: str, iso_week: str | None = None, beside: str = "") -> str:
    """Return the address of a room's week; the latest when none is named.

    ``beside`` is what it is drawn beside, where that is not the week before.
    """
    address = f"/rooms/{_part(room_id)}" + (f"/{_part(iso_week)}" if iso_week else "")
    return f"{address}?{urlencode({'beside': beside})}" if beside not in ("", "week") else address


def room_chart(room_id: str, iso_week: str, ending: str) -> str:
    """Return the address of the week chart as a picture, ``svg`` or ``png``."""
    return f"/rooms/{_part(room_id)}/{_part(iso_week)}.{ending}"


def week_values(room_id: str, iso_week: str) -> str:
    """Return the address of what can be read along the pictures of a room's week."""
    return f"/rooms/{_part(room_id)}/{_part(iso_week)}/values.json"


def week_sheet(room_id: str, iso_week: str, paper: str) -> str:
    """Return the address of the week's sheet for the wall, on ``a4`` or ``a3``."""
    return f"/rooms/{_part(room_id)}/{_part(iso_week)}/{paper}.pdf"


def air(room_id: str) -> str:
    """Return the address of a room's air over a longer time."""
    return f"/rooms/{_part(room_id)}/air"


def air_values(room_id: str) -> str:
    """Return the address of what can be read of the pictures of a room's air."""
    return f"/rooms/{_part(room_id)}/air/values.json"


def work(work_id: str) -> str:
    """Return the address of a work."""
    return f"/works/{_part(work_id)}"


def why(work_id: str, at: str = "") -> str:
    """Return the address of why a work is as it is: now, or at a time (local without a zone)."""
    return f"/works/{_part(work_id)}/why" + (f"?{urlencode({'at': at})}" if at else "")


def inspections(work_id: str) -> str:
    """Return where the form of a short inspection of a work is sent."""
    return f"/works/{_part(work_id)}/inspections"


def look_answer(work_id: str, inspection_id: str) -> str:
    """Return where it is told what came of an inspection, as JSON."""
    return f"/works/{_part(work_id)}/inspections/{_part(inspection_id)}"


def photograph(name: str, *, small: bool = False) -> str:
    """Return the address of the photograph of a look."""
    return f"/photographs/{_part(name)}" + ("/small" if small else "")


def withdraw_inspection(work_id: str, inspection_id: str) -> str:
    """Return where the withdrawal of an inspection is sent."""
    return f"/works/{_part(work_id)}/inspections/{_part(inspection_id)}/withdraw"


def half_time(work_id: str) -> str:
    """Return the address of how fast the frame of a work follows its room."""
    return f"/works/{_part(work_id)}/half-time"


def use_half_time(work_id: str) -> str:
    """Return where "use this half-time" is sent."""
    return f"/works/{_part(work_id)}/half-time/use"


def take_back_half_time(work_id: str) -> str:
    """Return where the half-time in use is taken back."""
    return f"/works/{_part(work_id)}/half-time/take-back"


def classes() -> str:
    """Return the address of what works teach each other."""
    return "/classes"


def measure() -> str:
    """Return the address of what to measure next."""
    return "/measure"


def round_(room_id: str | None = None, after: int = 0, *, whole: bool = False) -> str:
    """Return the address of the round: of one room or of all, after so many works, or whole."""
    query = {"room": room_id} if room_id else {}
    query |= {"after": str(after)} if after else {}
    return _asked("/round", query | ({"whole": "yes"} if whole else {}))


def saved_look(address: str, work_id: str, inspection_id: str, what: str = "seen") -> str:
    """Return the address of a page that says which look was just written down."""
    query = urlencode({"saved": what, "of": work_id, "look": inspection_id})
    return f"{address}{'&' if '?' in address else '?'}{query}"


def worker() -> str:
    """Return the address of what keeps the round on a phone while there is no connection."""
    return "/round-worker.js"


def bring_in() -> str:
    """Return the address of the upload form, and where the file is sent."""
    return "/bring-in"


def files_in_hand(batch: str, job_id: str = "", *, asked: bool = False) -> str:
    """Return the page of the files that came together, or the place of one on it.

    ``asked`` says that the one is not stored because something must be answered first.
    """
    place = (f"?asked={_part(job_id)}" if asked else "") + (f"#{_part(job_id)}" if job_id else "")
    return f"/bring-in/{_part(batch)}{place}"


def file_in_hand(batch: str, job_id: str, what: str) -> str:
    """Return where a form about one waiting file is sent: ``look``, ``confirm`` or ``drop``."""
    return f"/bring-in/{_part(batch)}/{_part(job_id)}/{_part(what)}"


def gateways() -> str:
    """Return the page of the gateways' tokens, and where a new one is asked for."""
    return "/gateways"


def revoke_token(number: int) -> str:
    """Return where it is sent that a token counts no more."""
    return f"/gateways/{number}/revoke"


def upload(number: int) -> str:
    """Return where an upload is looked at before it is taken back, and where that is sent."""
    return f"/uploads/{number}"


def notices() -> str:
    """Return the address of the notices."""
    return "/notices"


def notice(notice_id: str) -> str:
    """Return the address of one notice."""
    return f"/notices/{_part(notice_id)}"


def forget_reading(logger_id: str) -> str:
    """Return the address of the form that takes back how a logger's files are read."""
    return f"/instruments/{_part(logger_id)}/forget"


def notice_not_seen(notice_id: str) -> str:
    """Return where it is taken back that a notice was seen."""
    return f"/notices/{_part(notice_id)}/not-seen"


def notice_seen(notice_id: str) -> str:
    """Return where "seen" is sent for a notice."""
    return f"/notices/{_part(notice_id)}/seen"


def incidents() -> str:
    """Return the address of all incidents."""
    return "/incidents"


def incident(number: int) -> str:
    """Return the address of one incident."""
    return f"/incidents/{number}"


def notice_incident(notice_id: str) -> str:
    """Return where it is sent that an incident is opened from a notice."""
    return f"/notices/{_part(notice_id)}/incident"


def recipients() -> str:
    """Return the address of who is told of what."""
    return "/notices/people"


def recipient_remove(number: int) -> str:
    """Return where it is sent that a person is no longer told."""
    return f"/notices/people/{number}/remove"


def recipient_test(number: int) -> str:
    """Return where a test letter to a person is asked for."""
    return f"/notices/people/{number}/test"


def limits() -> str:
    """Return the address of the rooms against limits."""
    return "/limits"


def sources(key: str = "") -> str:
    """Return the address of the numbers and their origin, or of one reference there."""
    return "/sources" + (f"#{_part(key)}" if key else "")


def guides(slug: str = "") -> str:
    """Return the address of the guides, or of one."""
    return f"/guides/{_part(slug)}" if slug else "/guides"


def plan(kind: str = "", **query: str) -> str:
    """Return the address of planning, or of one plan, for example ``mount`` or ``hang``."""
    address = f"/plan/{_part(kind)}" if kind else "/plan"
    return f"{address}?{urlencode(query)}" if query else address


def forecast_taken_back(name: str) -> str:
    """Return where the forecast of that name is taken back."""
    return f"/plan/forecasts/{_part(name)}/take-back"


def static(name: str) -> str:
    """Return the address of a file of `dashboards/static`."""
    return f"/static/{name}"


def works(search: str = "", after: int = 0) -> str:
    """Return the address of all works and rooms, or of the works found, after so many of them."""
    query = {"search": search} if search else {}
    return _asked("/works", query | ({"after": str(after)} if after else {}))


def _asked(address: str, query: dict[str, str]) -> str:
    return f"{address}?{urlencode(query)}" if query else address


def new_work() -> str:
    """Return the address of the form for a new work."""
    return "/works/new"


def work_record(work_id: str, part: str = "", **was: str) -> str:
    """Return the address of a work's record, or of the form of one part.

    ``was`` names the entry to be corrected; without it the form adds one.
    """
    address = f"/works/{_part(work_id)}/record" + (f"/{_part(part)}" if part else "")
    return f"{address}?{urlencode(was)}" if was else address


def take_out(work_id: str, part: str, **was: str) -> str:
    """Return the address of the form that takes an entry out of a work's record."""
    return f"/works/{_part(work_id)}/record/{_part(part)}/take-out?{urlencode(was)}"


def measured(work_id: str, name: str = "") -> str:
    """Return the address of a work's measured numbers, or of the form of one of them."""
    return f"/works/{_part(work_id)}/measured" + (f"/{_part(name)}" if name else "")


def correct_measured(work_id: str, name: str, was: str) -> str:
    """Return the address of the form that corrects a measured number."""
    return f"{measured(work_id, name)}?{urlencode({'was_from_utc': was})}"


def withdraw_measured(work_id: str, name: str, was: str) -> str:
    """Return the address of the form that withdraws a measured number."""
    address = f"/works/{_part(work_id)}/measured/{_part(name)}/withdraw"
    return f"{address}?{urlencode({'was_from_utc': was})}"


def house() -> str:
    """Return the address of the form of the house: its name, its zone, its height."""
    return "/house"


def new_room() -> str:
    """Return the address of the form for a new room."""
    return "/rooms/new"


def room_record(room_id: str, part: str = "", **was: str) -> str:
    """Return the address of a room's record, or of the form of one part."""
    address = f"/rooms/{_part(room_id)}/record" + (f"/{_part(part)}" if part else "")
    return f"{address}?{urlencode(was)}" if was else address


def take_out_of_room(room_id: str, part: str, **was: str) -> str:
    """Return the address of the form that takes an entry out of a room's record."""
    return f"/rooms/{_part(room_id)}/record/{_part(part)}/take-out?{urlencode(was)}"


def house_part(part: str, **was: str) -> str:
    """Return the address of the form of something that belongs to the whole house."""
    address = f"/house/{_part(part)}"
    return f"{address}?{urlencode(was)}" if was else address


def take_out_of_house(part: str, **was: str) -> str:
    """Return the address of the form that takes such an entry out."""
    return f"/house/{_part(part)}/take-out?{urlencode(was)}"


def house_page(part: str) -> str:
    """Return the address of the page that shows a part of the house's record."""
    return calendar() if part == "event" else instruments()


def recipient_limits() -> str:
    """Return where limits and delays of notices are sent."""
    return f"{recipients()}/limits"


def calendar() -> str:
    """Return the address of what is planned and what was going on."""
    return "/calendar"


def instruments(logger_id: str = "") -> str:
    """Return the address of all loggers and how they were checked, or of one among them."""
    return "/instruments" + (f"#{anchor_of(logger_id)}" if logger_id else "")


def anchor_of(name: str) -> str:
    """Return the name of a part within a page, whatever letters it is made of.

    Examples
    --------
    >>> anchor_of("north-1"), anchor_of("A 7/2")
    ('at-north-1', 'at-A_207_2F2')
    """
    return "at-" + quote(name, safe="").replace("%", "_")


def import_works() -> str:
    """Return the address of works from a spreadsheet, and where a shown sheet is kept."""
    return "/works/import"


def look_at_works() -> str:
    """Return where a spreadsheet of works is sent to be shown."""
    return "/works/import/look"


def work_like(work_id: str) -> str:
    """Return the address of the form for a new work that is like another."""
    return f"/works/new?{urlencode({'like': work_id})}"


def sign_in(then: str = "") -> str:
    """Return the address at which one signs in, and where one goes on to then."""
    return f"/sign-in?{urlencode({'then': then})}" if then else "/sign-in"


def sign_out() -> str:
    """Return where it is sent that somebody signs out."""
    return "/sign-out"


def sign_in_by_house(then: str = "") -> str:
    """Return where one signs in through the house's own provider, and where one goes on to."""
    return f"/sign-in/house?{urlencode({'then': then})}" if then else "/sign-in/house"


def sign_out_by_house() -> str:
    """Return where one is sent to sign out at the house's own provider too."""
    return "/sign-out/house"


def welcome(link: str) -> str:
    """Return the address of a one-time link by which a password is chosen."""
    return f"/welcome/{_part(link)}"


def account(part: str = "") -> str:
    """Return the address of one's own account, or where a part of it is sent."""
    return f"/account/{_part(part)}" if part else "/account"


def accounts(name: str = "", part: str = "") -> str:
    """Return the address of all accounts, or where a change of one is sent."""
    return f"/accounts/{_part(name)}/{_part(part)}" if name else "/accounts"


def changes(**query: str) -> str:
    """Return the address of who changed what; of one work or room where it is named."""
    return f"/changes?{urlencode(query)}" if query else "/changes"


def program_tokens() -> str:
    """Return where a token for a program is asked for."""
    return "/gateways/programs"


def year_table(room_id: str, ending: str) -> str:
    """Return the address of the hours of a room's last year, as a file."""
    return f"/tables/rooms/{_part(room_id)}/year.{ending}"


def days_table(room_id: str, ending: str, what: str = "") -> str:
    """Return the address of the hours to come of a room, as a file."""
    query = f"?{urlencode({'what': what})}" if what else ""
    return f"/tables/rooms/{_part(room_id)}/days.{ending}{query}"


def changes_table(ending: str, **query: str) -> str:
    """Return the address of who changed what, as a file."""
    return f"/tables/changes.{ending}" + (f"?{urlencode(query)}" if query else "")


def table_of(address: str, ending: str) -> str:
    """Return the address of the table that stands on a page, as a file.

    Examples
    --------
    >>> table_of("/classes", "csv"), table_of("/plan/mount?work=a", "xlsx")
    ('/classes?table=csv', '/plan/mount?work=a&table=xlsx')
    """
    return f"{address}{'&' if '?' in address else '?'}table={ending}"


def search() -> str:
    """Return the address of the one search over the house."""
    return "/search"


HOUSES = "/houses"


def houses(name: str = "") -> str:
    """Return the address of all houses of a group, or of the first page of one among them."""
    return f"{HOUSES}/{_part(name)}/" if name else HOUSES

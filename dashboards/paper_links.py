"""The addresses of what is taken away and told as a whole: sheets, tables, statements, reports."""

from urllib.parse import quote, urlencode


def part(text: str) -> str:
    """Return a name as a part of an address, ``/`` and ``%`` in it so that they stay in it.

    Whatever serves the page undoes one quoting before it looks for the parts; the second one is
    undone where the name is read (`service.web.routes.names`).

    Examples
    --------
    >>> part("2018-02"), part("18/7")
    ('2018-02', '18%252F7')
    """
    once = quote(text, safe="")
    return quote(once, safe="") if "/" in text or "%" in text else once


def statements() -> str:
    """Return the address of the climate statements that were issued, and where one is issued."""
    return "/statements"


def new_statement(room_id: str = "", corrects: int | None = None) -> str:
    """Return the form of a climate statement: of a room, or in place of an earlier one."""
    query = {"room": room_id, "corrects": corrects}
    chosen = urlencode({name: value for name, value in query.items() if value})
    return "/statements/new" + (f"?{chosen}" if chosen else "")


def statement(number: int) -> str:
    """Return the address of one climate statement."""
    return f"/statements/{number}"


def statement_sheet(number: int) -> str:
    """Return the address of a climate statement as it was issued, as PDF."""
    return f"/statements/{number}.pdf"


def round_sheet(room_id: str = "") -> str:
    """Return the address of the round as PDF, of one room or of all."""
    return "/round.pdf" + (f"?{urlencode({'room': room_id})}" if room_id else "")


def work_labels(room_id: str = "") -> str:
    """Return the address of the labels for frame backs as PDF, of one room or of all."""
    return "/labels/works.pdf" + (f"?{urlencode({'room': room_id})}" if room_id else "")


def logger_labels() -> str:
    """Return the address of the labels for loggers as PDF."""
    return "/labels/loggers.pdf"


def exposure(work_id: str) -> str:
    """Return the address of what a work has been exposed to, as PDF."""
    return f"/works/{part(work_id)}/exposure.pdf"


def house_table(what: str, ending: str) -> str:
    """Return the address of a table of the house as a file: ``csv`` or ``xlsx``."""
    return f"/tables/{what}.{ending}"


def week_table(room_id: str, iso_week: str, what: str, ending: str) -> str:
    """Return the address of what a week's chart is drawn from, as a file: ``air`` or ``works``."""
    return f"/tables/rooms/{part(room_id)}/{part(iso_week)}/{what}.{ending}"


def work_table(work_id: str, ending: str) -> str:
    """Return the address of the hours of one work, as a file."""
    return f"/tables/works/{part(work_id)}/hours.{ending}"


def report(**query: str) -> str:
    """Return the address of what a month, a quarter or other dates brought."""
    return f"/report?{urlencode(query)}" if query else "/report"


def report_sheet(**query: str) -> str:
    """Return the address of the same as PDF."""
    return f"/report.pdf?{urlencode(query)}" if query else "/report.pdf"


def journey(work_id: str) -> str:
    """Return the address of what a work went through on its journeys."""
    return f"/works/{part(work_id)}/journey"


def journey_sheet(work_id: str, number: int) -> str:
    """Return the address of one journey as PDF, counted from the newest."""
    return f"/works/{part(work_id)}/journey/{number}.pdf"


def crate_form(work_id: str, was: str = "") -> str:
    """Return the form of a crate: a new one, or the one packed at a time; where it is sent."""
    address = f"/works/{part(work_id)}/journey/crate"
    return f"{address}?{urlencode({'was': was})}" if was else address

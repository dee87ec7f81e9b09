"""Short inspections sent from the round or from a work's page, and their withdrawal."""

from datetime import datetime
from typing import Annotated

from fastapi import APIRouter, Form
from fastapi.responses import RedirectResponse

from analysis.errors import StilltautError
from analysis.records.inspection_records import Inspection
from dashboards import links
from service.storage.inspections import put_inspection, withdraw_inspection
from service.web.routes.common import JobsDep, MuseumDep, go_to, own_address

router = APIRouter()
Text = Annotated[str, Form()]
# What the form says of the edges → whether a hinge has let go; None: they were not looked at.
EDGES = {"": None, "hold": False, "loose": True}


@router.post("/works/{work_id:name}/inspections")
def add(
    museum: MuseumDep,
    jobs: JobsDep,
    work_id: str,
    grade: Annotated[int, Form()],
    by: Text,
    wave_mm: Text = "",
    edges: Text = "",
    place: Text = "",
    lamp_side: Text = "",
    note: Text = "",
    back: Text = "",
) -> RedirectResponse:
    """Write down what somebody saw; "no change" and "flat" count too."""
    seen = Inspection(
        work_id=work_id,
        at_utc=museum.clock(),
        grade=grade,
        wave_mm=_millimetres(wave_mm),
        place=place,
        lamp_side=lamp_side,
        note=note,
        by=by.strip(),
        released=_released(edges),
    )
    put_inspection(museum.stores.register, seen, by=seen.by)
    jobs.wake()
    return go_to(
        _saved(own_address(back, links.work(work_id)), "loose" if seen.released else "seen")
    )


@router.post("/works/{work_id:name}/inspections/{inspection_id:name}/withdraw")
def withdraw(
    museum: MuseumDep, jobs: JobsDep, work_id: str, inspection_id: str
) -> RedirectResponse:
    """Take an inspection out of the count; it stays in the record."""
    at, _, seen_by = inspection_id.partition("~")
    withdraw_inspection(
        museum.stores.register,
        work_id,
        _time(at),
        seen_by,
        why="withdrawn on the work's page",
        by="page",
    )
    jobs.wake()
    return go_to(_saved(links.work(work_id), "withdrawn"))


def _saved(address: str, what: str) -> str:
    return f"{address}{'&' if '?' in address else '?'}saved={what}"


def _millimetres(text: str) -> float | None:
    if not text.strip():
        return None
    try:
        return float(text.replace(",", "."))
    except ValueError:
        raise StilltautError(
            read="the form",
            where="height of the waves",
            found=repr(text),
            expected="a number of millimetres",
            action="Go back and correct it, or leave it empty. Nothing was stored.",
        ) from None


def _released(edges: str) -> bool | None:
    if edges not in EDGES:
        raise StilltautError(
            read="the form",
            where="the edges",
            found=repr(edges),
            expected="nothing, hold or loose",
            action="Go back and choose again. Nothing was stored.",
        )
    return EDGES[edges]


def _time(text: str) -> datetime:
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        raise StilltautError(
            read="the address",
            where="inspection",
            found=repr(text),
            expected="the time of an inspection",
            action="Go back to the work's page and withdraw it from there.",
        ) from None

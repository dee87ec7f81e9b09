"""What works teach each other: shown, renewed, switched off and on."""

from typing import Annotated

from fastapi import APIRouter, Form
from fastapi.responses import RedirectResponse, Response

from dashboards import links
from dashboards.text.messages import N_, Worded
from service.answers.classes import classes_page
from service.estimates.class_renewal import renew
from service.storage import class_knowledge
from service.web.routes.common import JobsDep, MuseumDep, saved_at, shown_or_taken

router = APIRouter()
Text = Annotated[str, Form()]
SAVED = Worded(
    {
        "renew": N_("Renewed from what is measured now."),
        "off": N_("Switched off: every work is estimated by itself."),
        "on": N_("Switched on, and renewed from what is measured now."),
    }
)


@router.get("/classes")
def classes(museum: MuseumDep, saved: str = "", table: str = "") -> Response:
    """Show what is lent, to whom, and of when it is."""
    page = classes_page(museum, SAVED.get(saved, ""))
    return shown_or_taken(museum, page, page.table, "classes", table)


@router.post("/classes")
def change(museum: MuseumDep, jobs: JobsDep, by: Text, what: Text) -> RedirectResponse:
    """Renew what works lend each other, or switch it off or on."""
    register, who, now = museum.stores.register, by.strip(), museum.clock()
    if what in ("on", "off"):
        class_knowledge.switch(register, what == "on", by=who, at_utc=now)
    if what in ("on", "renew"):
        renew(museum.stores, now, by=who)
    jobs.wake()
    return saved_at(links.classes(), what)

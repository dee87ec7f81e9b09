"""Who changed what, when, from which page: everywhere, of one work, or of one room."""

from fastapi import APIRouter
from fastapi.responses import HTMLResponse

from dashboards import links
from dashboards.pages.account_pages import AuditedChange, ChangesPage
from dashboards.text.account_text import changed_words, changes_answer, changes_question
from dashboards.text.messages import _
from service.storage import audit
from service.storage.places import room_named
from service.storage.works import work_at
from service.web.routes.common import MuseumDep, shown

router = APIRouter()
A_PAGE = 100


@router.get("/changes")
def changes(museum: MuseumDep, work: str = "", room: str = "", before: int = 0) -> HTMLResponse:
    """Show the changes, newest first."""
    register = museum.stores.register
    title = work_at(register, work).title if work else ""
    name = room_named(register, room).name if room else ""
    asked = {key: value for key, value in (("work", work), ("room", room)) if value}
    lines = audit.lines_about(register, work=work, room=room, before=before, limit=A_PAGE + 1)
    shown_lines = lines[:A_PAGE]
    more = shown_lines[-1].number if len(lines) > A_PAGE else 0
    return shown(
        ChangesPage(
            zone=museum.zone,
            question=changes_question(title or name),
            answer=changes_answer(shown_lines, bool(more)),
            changes=[_change(one) for one in shown_lines],
            more=links.changes(**asked, before=str(more)) if more else "",
            places=_places(work, room),
            tables=[links.changes_table(ending, **asked) for ending in ("csv", "xlsx")],
        )
    )


def _change(one: audit.AuditLine) -> AuditedChange:
    words = changed_words(one.what, one.key, one.before, one.after)
    return AuditedChange(one.at_utc, words, one.by, one.account, one.page)


def _places(work: str, room: str) -> list[tuple[str, str]]:
    if work:
        return [(_("The work"), links.work(work)), (_("All changes"), links.changes())]
    if room:
        return [(_("The room"), links.room(room)), (_("All changes"), links.changes())]
    return []

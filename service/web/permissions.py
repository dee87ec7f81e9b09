"""Who may do what: for every address the least role, all in one table.

The first line that matches counts. What stands nowhere here only an administrator may ask for, and
a test fails as long as there is such an address.
"""

from dataclasses import dataclass
from functools import lru_cache
from re import Pattern

from starlette.routing import compile_path

from service.accounts.roles import Role
from service.web.routes import common  # noqa: F401  (registers names as parts of addresses)

ANYBODY = None  # signed in or not
READ = ("GET", "HEAD")

PUBLIC = (
    "GET /sign-in", "POST /sign-in", "GET /sign-in/house", "GET /sign-in/house/back",
    "GET /sign-out/house",
    "GET /welcome/{link}", "POST /welcome/{link}",
    "GET /form-token", "GET /round-worker.js", "GET /health", "GET /ready",
    "POST /api/readings",  # lets in by a gateway's token alone
)  # fmt: skip
LOOK = (
    "GET /houses", "GET /houses/{house:name}/",  # of a group; each house asks by its own roles
    "GET /", "GET /round", "GET /calendar", "GET /instruments", "GET /limits", "GET /sources",
    "GET /guides", "GET /guides/figures/{name}", "GET /guides/{slug}",
    "GET /classes", "GET /measure", "GET /photographs/{name}", "GET /photographs/{name}/small",
    "GET /works/{work_id:name}/inspections/{inspection_id:name}",
    "GET /notices", "GET /incidents", "GET /incidents/{number}",
    "GET /plan", "GET /plan/mount", "GET /plan/hang", "GET /plan/seal", "GET /plan/spacer",
    "GET /plan/days", "GET /plan/seasons", "GET /plan/sheet", "GET /plan/sheet.pdf",
    "GET /search", "GET /statements", "GET /report", "GET /report.pdf", "GET /api/report",
    "GET /round.pdf", "GET /labels/works.pdf", "GET /labels/loggers.pdf",
    "GET /tables/works/{work_id:name}/hours.{ending}",
    "GET /tables/rooms/{room_id:name}/{iso_week}/{what}.{ending}",
    "GET /tables/rooms/{room_id:name}/year.{ending}",
    "GET /tables/rooms/{room_id:name}/days.{ending}",
    "GET /works/{work_id:name}/exposure.pdf", "GET /works/{work_id:name}/journey",
    "GET /works/{work_id:name}/journey/{number}.pdf",
    "GET /account", "POST /account/password", "POST /account/factor", "POST /account/factor/end",
    "POST /sign-out",
    "GET /api/openapi.json", "GET /api/rooms", "GET /api/rooms/{room_id:name}/weeks/{iso_week}",
    "GET /api/rooms/{room_id:name}/days", "GET /api/rooms/{room_id:name}/record",
    "GET /api/round", "GET /api/works/{work_id:name}", "GET /api/works/{work_id:name}/record",
    "GET /api/works/{work_id:name}/half-time", "GET /api/works/{work_id:name}/journeys",
    "GET /api/works/{work_id:name}/why",
    "GET /api/notices", "GET /metrics",
)  # fmt: skip
CARE = (
    "GET /notices/people",  # names and telephone numbers
    "POST /works/{work_id:name}/inspections",
    "POST /works/{work_id:name}/inspections/{inspection_id:name}/withdraw",
    "POST /notices/{notice_id}/seen", "POST /notices/{notice_id}/not-seen",
    "POST /notices/{notice_id}/incident",
    "POST /incidents/{number}/questions", "POST /incidents/{number}/lines",
    "POST /incidents/{number}/close",
    "GET /bring-in", "POST /bring-in", "GET /bring-in/{batch}",
    "POST /bring-in/{batch}/{job_id}/look", "POST /bring-in/{batch}/{job_id}/confirm",
    "POST /bring-in/{batch}/{job_id}/drop",
    "GET /uploads/{number}", "POST /uploads/{number}", "POST /api/uploads",
    "POST /plan/hang",
    "POST /plan/forecasts/{forecast:name}/take-back", "GET /tables/uploads.{ending}",
    "GET /house/event", "POST /house/event", "GET /house/event/take-out",
    "POST /house/event/take-out",
)  # fmt: skip
KEEP = (
    "GET /statements/new", "POST /statements",
    "GET /changes", "GET /tables/changes.{ending}",
    "POST /notices/people/people", "POST /notices/people/limits",
    "POST /notices/people/{number}/remove", "POST /notices/people/{number}/test",
    "GET /works/new", "POST /works/new", "GET /works/import", "POST /works/import/look",
    "POST /works/import", "POST /works/{work_id:name}/half-time/use",
    "POST /works/{work_id:name}/half-time/take-back",
    "GET /works/{work_id:name}/record/print", "POST /works/{work_id:name}/record/print",
    "GET /works/{work_id:name}/record/{part}", "POST /works/{work_id:name}/record/{part}",
    "GET /works/{work_id:name}/record/{part}/take-out",
    "POST /works/{work_id:name}/record/{part}/take-out",
    "GET /works/{work_id:name}/measured/strip", "POST /works/{work_id:name}/measured/strip",
    "GET /works/{work_id:name}/measured/board", "POST /works/{work_id:name}/measured/board",
    "GET /works/{work_id:name}/measured/{name}", "POST /works/{work_id:name}/measured/{name}",
    "GET /works/{work_id:name}/measured/{name}/withdraw",
    "POST /works/{work_id:name}/measured/{name}/withdraw",
    "GET /house", "POST /house", "GET /house/{part}", "POST /house/{part}",
    "GET /house/{part}/take-out", "POST /house/{part}/take-out",
    "GET /instruments/{logger_id:name}/forget", "POST /instruments/{logger_id:name}/forget",
    "POST /classes",
    "GET /works/{work_id:name}/journey/crate", "POST /works/{work_id:name}/journey/crate",
    "GET /rooms/new", "POST /rooms/new",
    "GET /rooms/{room_id:name}/record/room", "POST /rooms/{room_id:name}/record/room",
    "GET /rooms/{room_id:name}/record/instrument", "POST /rooms/{room_id:name}/record/instrument",
    "GET /rooms/{room_id:name}/record/{part}", "POST /rooms/{room_id:name}/record/{part}",
    "GET /rooms/{room_id:name}/record/{part}/take-out",
    "POST /rooms/{room_id:name}/record/{part}/take-out",
)  # fmt: skip
ADMINISTER = (
    "GET /gateways", "POST /gateways", "POST /gateways/programs",
    "POST /gateways/{number}/revoke",
    "GET /accounts", "POST /accounts", "POST /accounts/{user:name}/change",
    "POST /accounts/{user:name}/link", "POST /accounts/{user:name}/factor",
)  # fmt: skip
# Pages of one work, room or notice, whose addresses would take the ones above for a name.
LOOK_BY_NAME = (
    "GET /tables/{what}.{ending}",
    "GET /statements/{number}.pdf", "GET /statements/{number}",
    "GET /notices/{notice_id}", "GET /works", "GET /works/{work_id:name}",
    "GET /works/{work_id:name}/why", "GET /works/{work_id:name}/half-time",
    "GET /works/{work_id:name}/record", "GET /works/{work_id:name}/measured",
    "GET /rooms/{room_id:name}", "GET /rooms/{room_id:name}/air",
    "GET /rooms/{room_id:name}/air/values.json",
    "GET /rooms/{room_id:name}/record", "GET /rooms/{room_id:name}/{iso_week}.{ending}",
    "GET /rooms/{room_id:name}/{iso_week}", "GET /rooms/{room_id:name}/{iso_week}/{paper}.pdf",
    "GET /rooms/{room_id:name}/{iso_week}/values.json",
)  # fmt: skip


@dataclass(frozen=True)
class Permission:
    """One line of the table: for whom, and which requests it is about."""

    method: str
    template: str
    least: Role | None
    address: Pattern[str]


def _lines() -> tuple[Permission, ...]:
    kinds = (
        (PUBLIC, ANYBODY), (LOOK, Role.LOOK), (CARE, Role.CARE), (KEEP, Role.KEEP),
        (ADMINISTER, Role.ADMINISTER), (LOOK_BY_NAME, Role.LOOK),
    )  # fmt: skip
    made = []
    for lines, least in kinds:
        for line in lines:
            method, template = line.split(" ")
            made.append(Permission(method, template, least, compile_path(template)[0]))
    return tuple(made)


PERMISSIONS = _lines()


@lru_cache(maxsize=4096)
def permission(method: str, path: str) -> Permission | None:
    """Return the line of the table about a request, or None."""
    asked = "GET" if method in READ else method
    for one in PERMISSIONS:
        if one.method == asked and one.address.match(path):
            return one
    return None

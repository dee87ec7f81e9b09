"""Every route × every role: who is let in, and who is not; no route without a line."""

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import httpx
import pytest
from fixtures.accounts import make_accounts, token_of_forms
from fixtures.serving import served

from service.accounts.roles import Role
from service.settings import Settings
from service.storage.accounts.sessions import begin_session
from service.storage.stores import Stores
from service.web import app
from service.web.permissions import permission
from service.web.routes import api, gateway
from service.web.visitors import FORMS, SESSION

ROUTES = (
    ("GET", "/sign-in/house", "anybody"),
    ("GET", "/sign-in/house/back", "anybody"),
    ("GET", "/sign-out/house", "anybody"),
    ("GET", "/health", "anybody"),
    ("GET", "/ready", "anybody"),
    ("GET", "/metrics", "look"),
    ("GET", "/measure", "look"),
    ("GET", "/rooms/north/2026-W12/values.json", "look"),
    ("GET", "/rooms/north/air/values.json", "look"),
    ("GET", "/classes", "look"),
    ("POST", "/classes", "keep"),
    ("GET", "/instruments/spare-1/forget", "keep"),
    ("POST", "/instruments/spare-1/forget", "keep"),
    ("POST", "/notices/1/not-seen", "care"),
    ("GET", "/photographs/none", "look"),
    ("GET", "/photographs/none/small", "look"),
    ("GET", "/works/2018-02/inspections/2026-01-01T00:00:00+00:00~A", "look"),
    ("GET", "/works", "look"),
    ("GET", "/works/new", "keep"),
    ("POST", "/works/new", "keep"),
    ("GET", "/works/import", "keep"),
    ("POST", "/works/import/look", "keep"),
    ("POST", "/works/import", "keep"),
    ("GET", "/works/2018-02/record", "look"),
    ("GET", "/works/2018-02/record/print", "keep"),
    ("POST", "/works/2018-02/record/print", "keep"),
    ("GET", "/works/2018-02/record/mounting", "keep"),
    ("POST", "/works/2018-02/record/mounting", "keep"),
    ("GET", "/works/2018-02/record/mounting/take-out", "keep"),
    ("POST", "/works/2018-02/record/mounting/take-out", "keep"),
    ("GET", "/calendar", "look"),
    ("GET", "/instruments", "look"),
    ("GET", "/house/calibration", "keep"),
    ("POST", "/house/calibration", "keep"),
    ("GET", "/house/calibration/take-out", "keep"),
    ("POST", "/house/calibration/take-out", "keep"),
    ("GET", "/works/2018-02/measured", "look"),
    ("GET", "/works/2018-02/measured/strip", "keep"),
    ("POST", "/works/2018-02/measured/strip", "keep"),
    ("GET", "/works/2018-02/measured/board", "keep"),
    ("POST", "/works/2018-02/measured/board", "keep"),
    ("GET", "/works/2018-02/measured/half_time_h", "keep"),
    ("POST", "/works/2018-02/measured/half_time_h", "keep"),
    ("GET", "/works/2018-02/measured/half_time_h/withdraw", "keep"),
    ("POST", "/works/2018-02/measured/half_time_h/withdraw", "keep"),
    ("GET", "/house", "keep"),
    ("POST", "/house", "keep"),
    ("GET", "/rooms/new", "keep"),
    ("POST", "/rooms/new", "keep"),
    ("GET", "/rooms/north/record", "look"),
    ("GET", "/rooms/north/record/room", "keep"),
    ("POST", "/rooms/north/record/room", "keep"),
    ("GET", "/rooms/north/record/instrument", "keep"),
    ("POST", "/rooms/north/record/instrument", "keep"),
    ("GET", "/rooms/north/record/band", "keep"),
    ("POST", "/rooms/north/record/band", "keep"),
    ("GET", "/rooms/north/record/band/take-out", "keep"),
    ("POST", "/rooms/north/record/band/take-out", "keep"),
    ("GET", "/", "look"),
    ("GET", "/rooms/north/air", "look"),
    ("GET", "/limits", "look"),
    ("GET", "/rooms/north", "look"),
    ("GET", "/rooms/north/2026-W12.svg", "look"),
    ("GET", "/rooms/north/2026-W12", "look"),
    ("GET", "/rooms/north/2026-W12/a3.pdf", "look"),
    ("GET", "/search", "look"),
    ("GET", "/round.pdf", "look"),
    ("GET", "/tables/round.csv", "look"),
    ("GET", "/tables/uploads.csv", "care"),
    ("GET", "/tables/changes.csv", "keep"),
    ("GET", "/tables/rooms/north/year.csv", "look"),
    ("GET", "/tables/rooms/north/days.csv", "look"),
    ("GET", "/tables/works/2018-02/hours.csv", "look"),
    ("GET", "/tables/rooms/north/2026-W12/air.csv", "look"),
    ("GET", "/labels/works.pdf", "look"),
    ("GET", "/labels/loggers.pdf", "look"),
    ("GET", "/works/2018-02/exposure.pdf", "look"),
    ("GET", "/works/2018-02/journey", "look"),
    ("GET", "/works/2018-02/journey/1.pdf", "look"),
    ("GET", "/works/2018-02/journey/crate", "keep"),
    ("POST", "/works/2018-02/journey/crate", "keep"),
    ("GET", "/report", "look"),
    ("GET", "/report.pdf", "look"),
    ("GET", "/api/report", "look"),
    ("GET", "/api/works/2018-02/journeys", "look"),
    ("GET", "/statements", "look"),
    ("GET", "/statements/new", "keep"),
    ("POST", "/statements", "keep"),
    ("GET", "/statements/1", "look"),
    ("GET", "/statements/1.pdf", "look"),
    ("GET", "/round", "look"),
    ("GET", "/round-worker.js", "anybody"),
    ("GET", "/works/2018-02", "look"),
    ("GET", "/works/2018-02/why", "look"),
    ("GET", "/works/2018-02/half-time", "look"),
    ("POST", "/works/2018-02/half-time/use", "keep"),
    ("POST", "/works/2018-02/half-time/take-back", "keep"),
    ("GET", "/incidents", "look"),
    ("GET", "/incidents/1", "look"),
    ("POST", "/notices/1/incident", "care"),
    ("POST", "/incidents/1/questions", "care"),
    ("POST", "/incidents/1/lines", "care"),
    ("POST", "/incidents/1/close", "care"),
    ("POST", "/works/2018-02/inspections", "care"),
    ("POST", "/works/2018-02/inspections/2026-01-01T00:00:00+00:00~A/withdraw", "care"),
    ("GET", "/bring-in", "care"),
    ("POST", "/bring-in", "care"),
    ("GET", "/bring-in/none", "care"),
    ("POST", "/bring-in/none/none/look", "care"),
    ("POST", "/bring-in/none/none/confirm", "care"),
    ("POST", "/bring-in/none/none/drop", "care"),
    ("GET", "/uploads/1", "care"),
    ("POST", "/uploads/1", "care"),
    ("GET", "/notices/people", "care"),
    ("POST", "/notices/people/people", "keep"),
    ("POST", "/notices/people/limits", "keep"),
    ("POST", "/notices/people/1/remove", "keep"),
    ("POST", "/notices/people/1/test", "keep"),
    ("GET", "/notices", "look"),
    ("GET", "/notices/1", "look"),
    ("POST", "/notices/1/seen", "care"),
    ("GET", "/plan", "look"),
    ("GET", "/plan/mount", "look"),
    ("GET", "/plan/hang", "look"),
    ("POST", "/plan/hang", "care"),
    ("GET", "/plan/seal", "look"),
    ("GET", "/plan/spacer", "look"),
    ("GET", "/plan/days", "look"),
    ("POST", "/plan/forecasts/none/take-back", "care"),
    ("GET", "/plan/seasons", "look"),
    ("GET", "/plan/sheet", "look"),
    ("GET", "/plan/sheet.pdf", "look"),
    ("GET", "/guides", "look"),
    ("GET", "/guides/figures/nothing.svg", "look"),
    ("GET", "/guides/air", "look"),
    ("GET", "/sources", "look"),
    ("GET", "/sign-in", "anybody"),
    ("POST", "/sign-in", "anybody"),
    ("POST", "/sign-out", "look"),
    ("GET", "/form-token", "anybody"),
    ("GET", "/welcome/none", "anybody"),
    ("POST", "/welcome/none", "anybody"),
    ("GET", "/account", "look"),
    ("POST", "/account/password", "look"),
    ("POST", "/account/factor", "look"),
    ("POST", "/account/factor/end", "look"),
    ("GET", "/accounts", "administer"),
    ("POST", "/accounts", "administer"),
    ("POST", "/accounts/care/change", "administer"),
    ("POST", "/accounts/care/link", "administer"),
    ("POST", "/accounts/care/factor", "administer"),
    ("GET", "/changes", "keep"),
    ("GET", "/gateways", "administer"),
    ("POST", "/gateways", "administer"),
    ("POST", "/gateways/programs", "administer"),
    ("POST", "/gateways/1/revoke", "administer"),
    ("POST", "/api/readings", "anybody"),
    ("GET", "/api/rooms", "look"),
    ("GET", "/api/rooms/north/weeks/2026-W12", "look"),
    ("GET", "/api/rooms/north/days", "look"),
    ("GET", "/api/round", "look"),
    ("GET", "/api/works/2018-02", "look"),
    ("GET", "/api/works/2018-02/record", "look"),
    ("GET", "/api/rooms/north/record", "look"),
    ("GET", "/api/works/2018-02/half-time", "look"),
    ("GET", "/api/works/2018-02/why", "look"),
    ("GET", "/api/notices", "look"),
    ("POST", "/api/uploads", "care"),
    ("GET", "/house/event", "care"),
    ("POST", "/house/event", "care"),
    ("GET", "/house/event/take-out", "care"),
    ("POST", "/house/event/take-out", "care"),
    ("GET", "/api/openapi.json", "look"),
)
OWN_DOOR = "/api/readings"  # a gateway's token is looked at there, and nothing else
Asks = Callable[..., httpx.Response]


@pytest.fixture(scope="module")
def ask(small_museum: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Asks]:
    """Ask for an address as somebody of a role, or as nobody: ``ask(None, "GET", "/")``."""
    folder = Path(shutil.copytree(small_museum, tmp_path_factory.mktemp("roles") / "museum"))
    make_accounts(folder)
    settings = Settings(data_dir=folder)
    with served(folder, access="sign-in") as client, client, Stores.open(settings) as stores:

        def asks(
            role: Role | None, method: str, address: str, *, with_token: bool = True
        ) -> httpx.Response:
            proof = begin_session(stores.register, str(role)) if role else "a browser"
            cookie = f"{SESSION if role else FORMS}={proof}"
            sent = token_of_forms(proof) if with_token and method == "POST" else None
            return client.request(method, address, data=sent, headers={"Cookie": cookie})

        yield asks


def is_refused(answer: httpx.Response) -> bool:
    """Whether somebody was not let in, or sent to sign in first."""
    to_sign_in = answer.headers.get("location", "").startswith("/sign-in?then=")
    return answer.status_code in (401, 403) or to_sign_in


@pytest.mark.parametrize(("method", "address", "least"), ROUTES)
def test_a_route_lets_in_who_may_and_nobody_else(
    ask: Asks, method: str, address: str, least: str
) -> None:
    may = list(Role)[list(Role).index(Role(least)) :] if least != "anybody" else list(Role)
    for role in (None, *Role):
        lets_in = least == "anybody" or role in may
        if lets_in and role not in (None, may[0]):
            continue  # the least of those who may is asked for: see `Role.may`
        if address == OWN_DOOR:
            assert ask(role, method, address).status_code == 401
            continue
        answer = ask(role, method, address)
        assert is_refused(answer) is not lets_in, (role, answer.status_code)
        assert answer.status_code < 500


@pytest.mark.parametrize("address", [one[1] for one in ROUTES if one[0] == "POST"])
def test_no_form_is_taken_without_its_token(ask: Asks, address: str) -> None:
    answer = ask(Role.ADMINISTER, "POST", address, with_token=False)
    assert answer.status_code == (401 if address == OWN_DOOR else 403)


def test_every_route_has_a_line_here_and_in_the_table() -> None:
    routers = [pages.router for pages in app.PAGES] + [gateway.pages, gateway.router, api.router]
    known = {
        (method, route.path)
        for router in routers
        for route in router.routes
        for method in getattr(route, "methods", ())
    } | {("GET", "/api/openapi.json")}
    found = [permission(method, address) for method, address, _ in ROUTES]
    by_name = {(one.method, one.template) for one in found if one}
    assert known - by_name == set()
    assert None not in found


def test_each_role_may_do_what_those_before_it_may() -> None:
    for number, role in enumerate(Role):
        assert [role.may(other) for other in Role] == [n <= number for n in range(len(Role))]


def test_an_address_in_no_line_is_for_administrators_alone(ask: Asks) -> None:
    assert ask(None, "GET", "/no-such-page").headers["location"].startswith("/sign-in")
    assert ask(Role.LOOK, "GET", "/no-such-page").status_code == 404

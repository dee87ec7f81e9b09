"""The first page of a group: which house needs whom, of those in which the reader has a role."""

import time
from concurrent.futures import Future
from dataclasses import dataclass
from http import HTTPStatus
from typing import TypeVar

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from analysis.errors import StilltautError
from analysis.results import Listing, State
from dashboards import links
from dashboards.pages import group_page
from dashboards.pages.group_page import GroupPage, HouseLine
from dashboards.pages.page import ErrorPage
from dashboards.text.error_words import error_words
from dashboards.text.messages import _
from service.accounts.house_provider import known_by_address
from service.accounts.roles import Role, role_named
from service.answers.museum import Museum
from service.group.house_files import is_there
from service.group.houses_served import HousesServed, asked_at_once
from service.group.served_house import ServedHouse
from service.group.standings import HouseStanding
from service.web.problems import error_answer
from service.web.routes.common import go_to, shown
from service.web.visitors import Caller, CallerDep, caller_of

pages, elsewhere = APIRouter(), APIRouter()
PATIENCE_S = 3.0  # so long the page waits for the slowest house

# What a house said before is not told as how it stands any more: a day in which nobody looked.
OLD_S = 86_400.0

Said = tuple[HouseStanding | None, bool]
Found = TypeVar("Found")


@dataclass(frozen=True)
class Told:
    """How a house stands by what it said, and whether that is so now or was at an earlier hour."""

    name: str
    standing: HouseStanding
    holds: bool

    @property
    def title(self) -> str:
        """What people call the house."""
        return self.standing.name or self.name


@pages.get("/")
def first() -> RedirectResponse:
    """Send on to the page of all houses."""
    return go_to(links.houses())


@pages.get("/health")
def health() -> Response:
    """Say that this process answers."""
    return Response("alive\n", media_type="text/plain")


@pages.get("/houses")
def every_house(request: Request, caller: CallerDep) -> HTMLResponse:
    """Show the houses in which somebody has a role, the most urgent first."""
    houses: HousesServed = request.app.state.houses
    until = time.monotonic() + PATIENCE_S
    mine, unknown = _with_a_role(houses.every(), caller, until)
    told, untold = list[Told](), list[HouseLine]()
    for house, found in _said(houses, mine, until).items():
        if isinstance(found, Told):
            told.append(found)
        else:
            untold.append(_untold_line(house, found))
    told.sort(key=lambda one: one.standing.order)
    needing = [one.title for one in told if one.standing.counts.get(Listing.LOOK_FIRST)]
    older = sum(not one.holds for one in told)
    return shown(
        GroupPage(
            answer=group_page.group_answer(needing, len(told), len(untold) + unknown),
            older=group_page.older_words(older),
            untold=untold,
            houses=[_line(one) for one in told],
            unknown=group_page.houses_unknown(unknown),
        )
    )


def _said(
    houses: HousesServed, mine: list[ServedHouse], until: float
) -> dict[ServedHouse, Told | Exception | None]:
    """Return what each house says, or said last; those that never said anything are waited for."""
    asked = asked_at_once(mine, "said", lambda house: house.said, until)
    found = {house: _word(house, asked[house.house.name]) for house in mine}
    if any(one is None and house.is_open for house, one in found.items()):
        new = [house for house, one in found.items() if one is None]
        worked_out = asked_at_once(new, "standing", lambda house: house.standing, until)
        for house in new:
            name = house.house.name
            new_word = _told(worked_out[name])
            found[house] = (
                Told(name, new_word, True) if isinstance(new_word, HouseStanding) else new_word
            )
    houses.wake()  # whose word is an older one is asked anew
    return found


def _word(house: ServedHouse, asked: Future[Said] | None) -> Told | Exception | None:
    """Return what a house says where nothing is worked out; None: nothing it can be told of by."""
    found, word = _told(asked), house.word
    if isinstance(found, Exception):
        return found
    if found is not None:
        standing, holds = found
    elif word is not None and not house.is_open and house.problem is None:
        standing, holds = word.standing, False  # it is being opened
    else:
        return None
    if standing is None or word is None or not (holds or time.time() - word.said_s < OLD_S):
        return None
    return Told(house.house.name, standing, holds)


def _with_a_role(
    every: list[ServedHouse], caller: Caller, until: float
) -> tuple[list[ServedHouse], int]:
    """Return the houses in which somebody has a role, and of how many that is not known.

    Who administers the group sees those too that cannot be asked: somebody must know of them.
    """
    if caller.open:
        return every, 0
    address = caller.user.email if caller.user else ""

    def may(museum: Museum) -> bool:
        user = known_by_address(museum.stores.register, address)
        return user is not None and role_named(user.role) is not None

    asked = asked_at_once(every, f"role of {address}", lambda _house: may, until)
    mine, unknown = list[ServedHouse](), 0
    for house in every:
        found = _told(asked[house.house.name])
        if found is True:
            mine.append(house)
        elif found is not False:
            knows = caller.role is Role.ADMINISTER
            mine += [house] if knows else []
            unknown += not knows
    return mine, unknown


def _told(asked: Future[Found] | None) -> Found | Exception | None:
    """Return what a house has answered, why it could not, or None where it has not yet."""
    if asked is None or not asked.done() or asked.cancelled():
        return None
    problem = asked.exception()
    if problem is None:
        return asked.result()
    return problem if isinstance(problem, Exception) else None


def _untold_line(house: ServedHouse, problem: Exception | None) -> HouseLine:
    """Return a house of which nothing is known now: why, and what it said last."""
    last = house.word.standing if house.word else None
    return HouseLine(
        name=house.house.name,
        title=(last.name if last else "") or house.house.name,
        address=links.houses(house.house.name),
        state=State.CANNOT_TELL,
        cannot_tell=_why(house, problem),
        answer=last.answer if last else "",
        answered=group_page.last_answer(last.now_utc, last.zone) if last else "",
        language=last.language if last else "",
    )


def _why(house: ServedHouse, problem: Exception | None) -> str:
    if isinstance(problem, StilltautError):
        return group_page.house_failed(_in_short(problem))
    if problem is not None:
        return group_page.house_failed(f"{type(problem).__name__}: {problem}")
    if house.is_open:
        return group_page.house_late(PATIENCE_S)
    if house.problem is not None:
        return group_page.house_shut(_in_short(house.problem))
    return group_page.house_opening()


def _in_short(problem: StilltautError) -> str:
    """Return what was found where; what to do about it is for whoever runs the service."""
    place = ", ".join(part for part in (problem.read, problem.where) if part)
    return _("found {found} in {place}.", found=error_words(problem.found), place=place)


def _line(told: Told) -> HouseLine:
    """Return a house that has answered, now or at an earlier hour."""
    one = told.standing
    overdue = one.due_utc is not None and one.due_utc < one.now_utc
    return HouseLine(
        name=told.name,
        title=told.title,
        address=links.houses(told.name),
        answer=one.answer,
        answered="" if told.holds else group_page.as_of(one.now_utc, one.zone),
        language=one.language,
        clock=one.clock,
        counts=one.counts,
        needs=group_page.house_needs(one.counts, one.unseen, one.silent, overdue),
        due=group_page.due_words(one.due_utc, one.now_utc, one.zone),
    )


@elsewhere.api_route("/houses/{house:name}/{rest:path}", methods=["GET", "POST"])
def not_open(request: Request, house: str) -> Response:
    """Say why pages of a house cannot be shown."""
    houses: HousesServed = request.app.state.houses
    found = houses.named(house)
    there = found is not None or is_there(houses.settings, house)
    problem = found.problem if found is not None else None
    administers = caller_of(request).role is Role.ADMINISTER
    why = _in_short(problem) if problem is not None and administers else ""
    page = ErrorPage(
        status=HTTPStatus.SERVICE_UNAVAILABLE if there else HTTPStatus.NOT_FOUND,
        heading="That did not work." if there else "There is no such page.",
        read="the address",
        where=request.url.path,
        found=why or ("a house that is not open" if there else "no house of this name"),
        expected="a house of this group that is open",
        action="Try again in a minute; the other houses are not concerned."
        if there
        else "Go back to the page of all houses.",
    )
    return error_answer(request, page)

"""What people send from the round, a work's page and a notice, and what it changes."""

import re
from collections.abc import Callable
from html import unescape
from pathlib import Path

import httpx
import pytest
from fixtures.rounds import round_works

from service.settings import Settings
from service.storage import audit
from service.storage.stores import Stores

WORK = "2018-02"  # left be once it was seen flat

# The clock of the small museum stands at 23:00 UTC: looks of one person need their own times.
# The invented museum's clock stands at a quarter past eleven.
HOUR_AGO, HALF_HOUR_AGO, JUST_NOW = (
    f"2026-03-22T{clock}:00Z" for clock in ("22:00", "22:30", "23:10")
)


@pytest.fixture
def own(own_museum: Path, serve: Callable[[Path], httpx.Client]) -> httpx.Client:
    """A museum of its own, served."""
    return serve(own_museum)


def said(page: httpx.Response) -> str:
    """Return what a page says, without tags."""
    text = unescape(re.sub(r"<[^>]+>", " ", page.text))
    return re.sub(r"\s+", " ", text.replace("\N{NO-BREAK SPACE}", " "))


def listing(client: httpx.Client, work_id: str) -> str:
    """Return the list on which a work stands."""
    judged = round_works(client)
    return next(str(one["listing"]) for one in judged if one["work_id"] == work_id)


def look(client: httpx.Client, work_id: str = WORK, **sent: str) -> httpx.Response:
    """Send an inspection as the form does, and go where it leads."""
    form = {"grade": "0", "by": "A. Person", "back": "/round"} | sent
    page = client.post(f"/works/{work_id}/inspections", data=form)
    return page if page.status_code != 303 else client.get(page.headers["location"])


def test_a_grade_moves_a_work_and_a_later_look_moves_it_back(own: httpx.Client) -> None:
    look(own, grade="0", at=HOUR_AGO)
    before = listing(own, WORK)
    assert before != "look first"
    page = look(own, grade="2", at=HALF_HOUR_AGO)
    assert "Saved: Harbour" not in said(page)
    assert ", 2 (seen in ordinary light from the side)" in said(page)
    assert "Next: " in said(page)
    assert listing(own, WORK) == "look first"
    assert "last seen: 2, seen in ordinary light from the side" in said(page)
    look(own, grade="0", again="both")
    assert listing(own, WORK) == before


def test_a_second_grade_within_minutes_is_asked_about(own: httpx.Client) -> None:
    look(own, grade="2", at=JUST_NOW)
    asked = look(own, grade="0")
    assert asked.status_code == 409
    assert "Is this a second look at" in said(asked)
    assert listing(own, WORK) == "look first"
    look(own, grade="0", again="instead")
    seen = own.get(f"/api/works/{WORK}").json()["inspections"]
    assert [(one["grade"], bool(one["withdrawn"])) for one in seen[-2:]] == [(2, True), (0, False)]
    assert listing(own, WORK) != "look first"


def test_a_look_sent_twice_counts_once(own: httpx.Client) -> None:
    before = len(own.get(f"/api/works/{WORK}").json()["inspections"])
    sent = {"grade": "1", "by": "A. Person", "at": "2026-03-20T10:15:07.123Z"}
    for _ in range(2):
        answer = own.post(
            f"/works/{WORK}/inspections", data=sent, headers={"Accept": "application/json"}
        )
        assert answer.status_code == 200
        assert answer.json()["saved"].endswith(", 1 (seen only in raking light)")
    seen = own.get(f"/api/works/{WORK}").json()["inspections"]
    assert len(seen) == before + 1
    assert own.post(answer.json()["undo"], data={"back": "/round"}).status_code == 303
    assert own.get(f"/api/works/{WORK}").json()["inspections"][-1]["withdrawn"]


def test_a_paper_round_is_entered_with_its_own_time(own: httpx.Client) -> None:
    page = look(own, grade="1", at="2026-03-20T10:15")
    assert "1, seen only in raking light, 20 March 2026, 10:15" in said(page)
    future = look(own, grade="1", at="2099-01-01T10:00")
    assert future.status_code == 422
    assert "a time that is not yet to come" in said(future)


def test_an_inspection_can_be_withdrawn_but_stays_in_the_record(own: httpx.Client) -> None:
    look(own, grade="0", at=HOUR_AGO)
    before = listing(own, WORK)
    look(own, grade="2", note="by the lower edge", back=f"/works/{WORK}")
    page = own.get(f"/works/{WORK}")
    withdraw = re.findall(r'action="(/works/[^"]+/withdraw)"', page.text)[0]
    answer = own.post(withdraw)
    assert answer.status_code == 303
    after = said(own.get(answer.headers["location"]))
    assert "Withdrawn: it no longer counts." in after
    assert "By the lower edge" in after
    assert "(withdrawn)" in after
    assert listing(own, WORK) == before


def edges(page: str) -> list[str]:
    """Return what the form of a page lets people say of the edges."""
    (choice,) = re.findall(r'<select name="edges">(.*?)</select>', page)
    return re.findall(r'<option value="(\w*)">', choice)


def test_what_was_seen_at_the_edges_is_written_and_told(own: httpx.Client) -> None:
    address = f"/works/{WORK}"
    asked = own.get(address).text
    assert "No probe touches a photograph" in asked
    assert "a conservator measures without contact" in asked
    nothing, hold, loose = edges(asked)
    assert "edges looked at" not in said(look(own, edges=nothing, at=HOUR_AGO, back=address))
    both = {"again": "both", "back": address}
    assert "0 flat, edges looked at, all hold" in said(
        look(own, edges=hold, at=HALF_HOUR_AGO, **both)
    )
    assert listing(own, WORK) != "look first"
    page = said(look(own, edges=loose, **both))
    assert "Written down. Thank you. Do not press it back; leave it hanging as it is" in page
    assert "0 flat, a hinge is loose" in page
    seen = own.get(f"/api/works/{WORK}").json()["inspections"]
    assert [one["released"] for one in seen[-3:]] == [None, False, True]


def test_a_loose_hinge_sends_people_there_until_it_is_withdrawn(own: httpx.Client) -> None:
    before = own.get(f"/api/works/{WORK}").json()
    look(own, edges="loose")
    assert listing(own, WORK) == "look first"
    page = own.get("/round?room=north")
    assert "A hinge was found loose on" in said(page)
    assert "last seen: 0, flat, a hinge is loose" in said(page)
    assert edges(page.text) == ["", "hold", "loose"]
    withdraw = re.findall(r'action="(/works/[^"]+/withdraw)"', own.get(f"/works/{WORK}").text)[0]
    own.post(withdraw)
    after = own.get(f"/api/works/{WORK}").json()
    assert after["inspections"].pop()["withdrawn"]
    assert after == before


def test_everything_that_was_written_stands_on_the_page_of_the_work(own: httpx.Client) -> None:
    sent = {"wave_mm": "3,5", "place": "lower left", "lamp_side": "left", "note": "since <Tuesday>"}
    page = look(own, grade="1", back=f"/works/{WORK}", **sent)
    assert "1 seen only in raking light, 3.5 mm, lower left, lamp from left" in said(page)
    assert "Since <Tuesday>" in said(page)
    assert "Since <Tuesday>" not in page.text


def test_what_was_written_is_in_the_trail_with_a_name(own: httpx.Client, own_museum: Path) -> None:
    look(own, grade="1", by=" B. Person ")
    with Stores.open(Settings(data_dir=own_museum)) as stores:
        newest = audit.trail(stores.register, "inspections", 1)[0]
    assert newest.by == "B. Person"
    assert newest.after is not None
    assert newest.after["grade"] == 1


@pytest.mark.parametrize(
    ("changes", "status"),
    [
        ({"grade": "7"}, 422),
        ({"grade": "two"}, 422),
        ({"wave_mm": "tall"}, 422),
        ({"edges": "some"}, 422),
    ],
)
def test_a_spoilt_inspection_is_refused(
    own: httpx.Client, changes: dict[str, str], status: int
) -> None:
    page = look(own, **changes)
    assert page.status_code == status
    assert "<dt>Expected</dt>" in page.text
    assert "Thank you" not in said(own.get(f"/works/{WORK}"))


def test_an_inspection_of_an_unknown_work_is_refused(own: httpx.Client) -> None:
    page = look(own, "nothing")
    assert page.status_code == 422
    assert "<dt>Expected</dt>" in page.text


def test_a_form_leads_back_to_this_program_only(own: httpx.Client) -> None:
    form = {"grade": "0", "by": "A. Person", "back": "https://elsewhere.example/"}
    answer = own.post(f"/works/{WORK}/inspections", data=form)
    assert answer.headers["location"].startswith(f"/works/{WORK}?saved=seen")


def test_withdrawing_what_was_never_seen_is_refused(own: httpx.Client) -> None:
    for name in ("yesterday~A", "2026-03-01T10:00:00+00:00~Nobody"):
        page = own.post(f"/works/{WORK}/inspections/{name}/withdraw")
        assert page.status_code == 422
        assert "<dt>Expected</dt>" in page.text


def test_a_notice_is_seen_with_a_name_and_a_reason(own: httpx.Client) -> None:
    address = re.findall(r'href="(/notices/\d+)"', own.get("/notices").text)[0]
    assert "What to do now" in said(own.get(address))
    answer = own.post(
        f"{address}/seen", data={"by": "A. Person", "reason": "engineer is on the way"}
    )
    assert answer.status_code == 303
    page = said(own.get(answer.headers["location"]))
    assert re.search(r"Seen by A. Person, [^:]+:\d\d: engineer is on the way", page)
    assert "I have seen it" not in page
    assert "Seen by A. Person" in said(own.get("/"))


def test_seeing_an_unknown_notice_is_refused(own: httpx.Client) -> None:
    page = own.post("/notices/99999/seen", data={"by": "A. Person"})
    assert page.status_code == 422
    assert "<dt>Found</dt>" in page.text


def test_the_lists_of_one_room_hold_that_room_alone(web: httpx.Client) -> None:
    page = said(web.get("/round?room=east"))
    assert "Rope walk" in page
    assert "Orchard in fog" not in page


def test_planning_pages_answer_their_question(web: httpx.Client) -> None:
    found = {
        kind: said(web.get(f"/plan/{kind}?work={WORK}"))
        for kind in ("mount", "hang", "seal", "spacer", "sheet")
    }
    assert "At what RH to mount Orchard in fog II?" in found["mount"]
    assert "North Gallery" in found["hang"]
    assert "sealed package with barrier film" in found["seal"]
    assert "Clearance" in found["spacer"]
    assert "Hinges in all" in found["sheet"]

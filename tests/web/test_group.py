"""A group of houses: each behind its own roles, at its own address, told of in its own words."""

import contextlib
import hashlib
import io
import json
import re
import shutil
import sqlite3
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import urljoin, urlsplit

import httpx
import pytest
from fixtures.accounts import PASSWORD
from fixtures.serving import DRAWS, served_app

from analysis.records.room_records import Site
from service.accounts.passwords import password_hash
from service.accounts.roles import Role
from service.answers.museum import Museum
from service.cli import main
from service.group import group_pages, served_house
from service.group.group_app import Group
from service.group.house_files import every_house, house_file, is_there, write_house
from service.group.standings import KEPT_IN, HouseStanding, kept_word, rests_on, worked_out
from service.settings import Settings
from service.storage.accounts.users import User, put_user
from service.storage.durable import unwritable
from service.storage.records import put_record
from service.storage.stores import Stores

PERSON = "a.person@museum.example"
FILE = re.compile(
    r"\.(?:pdf|png|svg|csv|xlsx|json)\b|table=|/plan/(?:days|hang|seasons|mount)"
)  # costly
FIRST_SENTENCE = re.compile(r'<p class="answer">(.*?)</p>', re.DOTALL)


@pytest.fixture(scope="module")
def houses(small_museum: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A group's folder: a house with works, one in German that has just begun, one that is gone."""
    group = Settings(data_dir=tmp_path_factory.mktemp("group") / "group")
    shutil.copytree(small_museum, group.data_dir / "houses" / "mere")
    begun = Settings(data_dir=group.data_dir / "houses" / "quay")
    with Stores.open(begun) as stores:
        put_record(stores.register, Site("quay", "Haus am Kai", "Europe/Vienna", locale="de_AT"))
    for name in ("mere", "quay", "gone"):
        write_house(group, name)
    for own, role, email in (("mere", Role.CARE, PERSON), ("quay", Role.LOOK, "b@other.example")):
        with Stores.open(group.with_changes(data_dir=group.data_dir / "houses" / own)) as stores:
            let_in(stores, "in-house", role, email)
    with Stores.open(group) as stores:
        put_record(stores.register, Site("group", "Three houses", "Europe/Dublin"))
        let_in(stores, "person", Role.LOOK, PERSON)
        let_in(stores, "stranger", Role.LOOK, "nobody@elsewhere.example")
        let_in(stores, "chief", Role.ADMINISTER, "chief@group.example")
    return group.data_dir


def let_in(stores: Stores, name: str, role: Role, email: str) -> None:
    """Make an account."""
    hashed = password_hash(PASSWORD, "")
    user = User(name, name.capitalize(), str(role), email, hashed)
    put_user(stores.register, user, by="a test")


@contextlib.contextmanager
def served_group(folder: Path, **settings: str) -> Iterator[tuple[Group, httpx.Client]]:
    """Serve a group; give it and a browser, once every house that can be is open."""
    group = Group(Settings(data_dir=folder, draws=DRAWS).with_changes(**settings))
    with served_app(group) as home, httpx.Client(base_url=home, timeout=60.0) as client:
        opened(group)
        yield group, client


def opened(group: Group) -> None:
    """Wait until every house is open, or has said why not."""
    wait_for(lambda: all(one.is_open or one.problem for one in group.houses.every()))


def wait_for(what: Callable[[], bool]) -> None:
    """Wait until something is so."""
    for _ in range(3000):
        if what():
            return
        time.sleep(0.02)
    raise TimeoutError("it did not come about within a minute")


@pytest.fixture(scope="module")
def group(houses: Path) -> Iterator[httpx.Client]:
    """The three houses served, open, for tests that change nothing."""
    with served_group(houses) as (_group, client):
        yield client


@pytest.fixture(scope="module")
def guarded(houses: Path) -> Iterator[str]:
    """The three houses served to people who sign in."""
    with served_group(houses, access="sign-in") as (_group, client):
        yield str(client.base_url)


class Addresses(HTMLParser):
    """Every address on a page, and of each form whether it posts."""

    def __init__(self) -> None:
        super().__init__()
        self.asked: set[str] = set()
        self.posted: set[str] = set()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        known = dict(attrs)
        for name in ("href", "src", "data-values", "data-worker", "data-part", "data-home"):
            if known.get(name):
                self.asked.add(str(known[name]))
        for name in ("action", "formaction"):
            if known.get(name):
                (self.posted if known.get("method") == "post" or name == "formaction"
                 else self.asked).add(str(known[name]))  # fmt: skip


def told(client: httpx.Client) -> httpx.Response:
    """Return the page of all houses once none is still being worked out."""
    page = client.get("/houses")
    for passing in ("is still asked", "is being opened", "being asked anew"):
        wait_for(lambda passing=passing: passing not in client.get("/houses").text)  # type: ignore[misc]
    page = client.get("/houses")
    assert page.status_code == 200
    return page


def test_each_house_is_told_of_by_its_own_first_sentence(group: httpx.Client) -> None:
    page = told(group)
    for house in ("mere", "quay"):
        first = group.get(f"/houses/{house}/")
        found = FIRST_SENTENCE.search(first.text)
        assert found and found[1].strip() in page.text
        assert f'href="/houses/{house}/"' in page.text
    assert page.text.index("Sallowmere") < page.text.index("Haus am Kai")


def test_a_house_that_cannot_be_opened_is_told_of(group: httpx.Client) -> None:
    page = told(group).text
    untold = page[page.index("<h2>Cannot tell</h2>") : page.index("the most urgent first</h2>")]
    assert "gone" in untold and "no such folder" in untold
    assert group.get("/houses/gone/").status_code == 503
    assert group.get("/houses/none/").status_code == 404


@pytest.mark.long
@pytest.mark.slow
def test_every_address_of_a_house_stays_in_it(group: httpx.Client) -> None:
    start = "/houses/mere/"
    waiting, seen, posted = [start, f"{start}works/2018-02", f"{start}bring-in"], set[str](), 0
    kinds = set[str]()
    while waiting and len(seen) < 120:
        address = waiting.pop(0)
        kind = re.sub(r"\?.*|(?<=/(?:works|rooms)/)[^/]+|(?<=/)20\d\d-W\d\d", "", address)
        if address in seen or kind in kinds:
            continue
        seen.add(address)
        kinds.add(kind)
        page = group.get(address, follow_redirects=True)
        assert page.status_code in (200, 422), address  # 422: a plan that needs to be told more
        assert urlsplit(str(page.url)).path.startswith(start), address
        if not page.headers["content-type"].startswith("text/html"):
            continue
        found = Addresses()
        found.feed(page.text)
        for one in found.asked | found.posted:
            path = urlsplit(urljoin(str(page.url), one)).path
            elsewhere = urlsplit(one).scheme in ("http", "https", "mailto", "tel")
            shared = path == "/houses" or path.startswith("/static/")
            assert elsewhere or shared or path.startswith(start), (address, one)
            if path.startswith(start) and one in found.asked and not FILE.search(one):
                waiting.append(one.partition("#")[0] or address)
        posted += len(found.posted)
    assert len(seen) > 25 and posted > 10


def test_a_person_sees_the_houses_in_which_they_have_a_role(guarded: str) -> None:
    with person(guarded, "person") as mine:
        page = told(mine).text
        assert "Sallowmere" in page and "Haus am Kai" not in page
        assert "One more house cannot be asked now" in page and "gone" not in page
        assert mine.get("/houses/mere/").status_code == 200
        assert mine.get("/houses/mere/bring-in").status_code == 200  # may care there
        assert mine.get("/houses/mere/house").status_code == 403  # may not keep there
        refused = mine.get("/houses/quay/")
        assert refused.headers["location"] == "/houses/quay/sign-in?then=%2F"
    with person(guarded, "stranger") as other:
        assert "There is no house here" not in told(other).text
        assert "Sallowmere" not in told(other).text
        assert other.get("/houses/mere/").status_code == 303
    with person(guarded, "chief") as chief:
        page = told(chief).text
        assert "gone" in page and "no such folder" in page
        assert "Sallowmere" not in page  # to administer the group lets nobody into a house


def test_nobody_who_is_not_signed_in_sees_anything(guarded: str) -> None:
    with httpx.Client(base_url=guarded) as nobody:
        assert nobody.get("/houses").headers["location"].startswith("/sign-in")
        for address in ("/houses/gone/", "/houses/none/"):
            assert nobody.get(address).status_code == 303
        inside = nobody.get("/houses/mere/works/2018-02?x=1")
        assert inside.headers["location"] == (
            "/houses/mere/sign-in?then=%2Fworks%2F2018-02%3Fx%3D1"
        )


def test_who_has_an_account_in_a_house_alone_signs_in_there(guarded: str) -> None:
    with httpx.Client(base_url=guarded) as client:
        answer = sign_in(client, "/houses/mere/sign-in", "in-house", then="/works")
        assert answer.headers["location"] == "/houses/mere/works"
        assert client.get("/houses/mere/works").status_code == 200
        assert client.get("/houses/quay/").status_code == 303
        assert client.get("/houses").status_code == 303
        out = client.post("/houses/mere/sign-out", data=token(client, "/houses/mere/"))
        assert out.headers["location"] == "/houses/mere/sign-in?done=out"
        assert client.get("/houses/mere/works").status_code == 303


def test_whoever_signs_out_in_a_house_is_signed_out_of_all(guarded: str) -> None:
    with person(guarded, "person") as mine:
        out = mine.post("/houses/mere/sign-out", data=token(mine, "/houses/mere/"))
        assert out.headers["location"] == "/sign-in?done=out"
        assert mine.get("/houses/mere/").status_code == 303
        assert mine.get("/houses").status_code == 303


def test_an_account_closed_in_the_house_is_closed_at_once(houses: Path, tmp_path: Path) -> None:
    folder = Path(shutil.copytree(houses, tmp_path / "group"))
    with served_group(folder, access="sign-in") as (_group, client):
        sign_in(client, "/sign-in", "person")
        assert client.get("/houses/mere/notices").status_code == 200
        with Stores.open(Settings(data_dir=folder / "houses" / "mere")) as stores:
            user = User("in-house", "In-house", str(Role.CARE), PERSON, active=False)
            put_user(stores.register, user, by="a test")
        assert client.get("/houses/mere/notices").status_code == 303
        assert "Sallowmere" not in told(client).text


@contextlib.contextmanager
def person(home: str, name: str) -> Iterator[httpx.Client]:
    """Give a browser in which somebody is signed in at the group."""
    with httpx.Client(base_url=home, timeout=60.0) as client:
        assert sign_in(client, "/sign-in", name).status_code == 303
        yield client


def sign_in(client: httpx.Client, at: str, name: str, then: str = "") -> httpx.Response:
    """Sign in by a form."""
    fields = {"name": name, "password": PASSWORD, "then": then}
    return client.post(at, data=fields | token(client, at))


def token(client: httpx.Client, at: str) -> dict[str, str]:
    """Return what the forms of a page send back."""
    found = re.search(r'name="form_token" value="([0-9a-f]{64})"', client.get(at).text)
    assert found
    return {"form_token": found[1]}


def test_a_house_whose_register_is_silent_is_told_of_and_holds_up_no_other(
    houses: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = Path(shutil.copytree(houses, tmp_path / "group"))
    goes_on, own = threading.Event(), rests_on

    def silently(museum: Museum) -> tuple[object, ...]:
        if museum.stores.folder.name == "mere":
            assert goes_on.wait(60.0)
        return own(museum)

    with served_group(folder) as (_group, client):
        told(client)
        monkeypatch.setattr(served_house, "rests_on", silently)
        monkeypatch.setattr(group_pages, "PATIENCE_S", 0.5)
        page = client.get("/houses").text
        untold, houses_told = page.split("the most urgent first</h2>")
        assert "has not answered within" in untold and "Sallowmere" in untold
        assert "Its last answer, of" in untold  # dated, and not taken for one of now
        assert "Haus am Kai" in houses_told
        goes_on.set()
        monkeypatch.setattr(group_pages, "PATIENCE_S", 30.0)
        assert "has not answered within" not in client.get("/houses").text


def test_what_a_house_said_is_kept_and_told_with_its_hour_until_it_answers_anew(
    houses: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = Path(shutil.copytree(houses, tmp_path / "group"))
    with served_group(folder) as (_group, client):
        told(client)
        assert "As of" not in client.get("/houses").text
    with Stores.open(Settings(data_dir=folder / "houses" / "mere")) as stores:
        put_record(stores.register, Site("main", "Sallowmere again", "Europe/Dublin"))
    goes_on, own = threading.Event(), worked_out

    def slowly(museum: Museum) -> HouseStanding:
        if museum.stores.folder.name == "mere":
            assert goes_on.wait(60.0)
        return own(museum)

    monkeypatch.setattr(served_house, "worked_out", slowly)
    with served_group(folder) as (_group, client):
        page = client.get("/houses").text
        of_mere = page[page.index("Sallowmere") : page.index("Haus am Kai")]
        assert "again" not in of_mere and "As of " in of_mere
        assert "One house is told of as of an earlier hour" in page
        monkeypatch.setattr(group_pages, "OLD_S", 0.0)  # a day later
        monkeypatch.setattr(group_pages, "PATIENCE_S", 0.3)
        untold = client.get("/houses").text.split("the most urgent first</h2>")[0]
        assert "Sallowmere" in untold and "Its last answer, of" in untold
        goes_on.set()
        wait_for(lambda: "Sallowmere again" in client.get("/houses").text)
        assert "As of" not in told(client).text


def test_a_word_of_another_release_is_not_understood(tmp_path: Path) -> None:
    (tmp_path / KEPT_IN).parent.mkdir()
    for text in ("", "{", "{}", '{"rests_on": [], "said_s": 1, "standing": {"name": "North"}}'):
        (tmp_path / KEPT_IN).write_text(text)
        assert kept_word(tmp_path) is None


def test_houses_that_nobody_asks_for_give_way_with_what_they_keep_in_memory(houses: Path) -> None:
    with served_group(houses) as (group, client):
        told(client)
        client.get("/houses/mere/").raise_for_status()
        mere = group.houses.named("mere")
        assert mere and mere.answers_bytes > 0
        settings = group.houses.settings
        group.houses.settings = settings.with_changes(answers_mb=0)
        group.houses.keep_to_memory()
        assert mere.answers_bytes == 0
        client.get("/houses/mere/").raise_for_status()


def test_a_look_sent_under_the_prefix_is_written_down_and_taken_back(
    houses: Path, tmp_path: Path
) -> None:
    folder = Path(shutil.copytree(houses, tmp_path / "group"))
    look = "/houses/mere/works/2018-02/inspections"
    with served_group(folder) as (_group, client):
        sent = client.post(look, data={"grade": "0", "by": "A", "back": "/houses/mere/round"})
        assert urlsplit(sent.headers["location"]).path == "/houses/mere/round"
        as_json = {"accept": "application/json"}
        saved = client.post(look, data={"grade": "0", "by": "B", "again": "both"}, headers=as_json)
        undo = saved.json()["undo"]
        assert undo.startswith("/works/")  # the script puts the address of the house before it
        assert client.post(f"/houses/mere{undo}", headers=as_json).status_code == 200


def test_a_house_is_taken_out_whole_and_put_in_again_and_no_other_is_touched(
    houses: Path, tmp_path: Path
) -> None:
    folder = Path(shutil.copytree(houses, tmp_path / "group"))
    archive, others = tmp_path / "archive", ("quay", "gone")
    with served_group(folder) as (group, client):
        before = client.get("/houses/mere/api/round").json()
        kept = held(folder, others)
        out = run("take-out", "mere", str(archive), "--data", str(folder))
        assert out.exit_code == 0 and "House mere is out of the group" in out.output
        assert client.get("/houses/mere/").status_code == 404
        assert "Sallowmere" not in client.get("/houses").text
        assert client.get("/houses/quay/").status_code == 200
        assert held(folder, others) == kept
        taken = run("add", "mere", "--archive", str(archive), "--data", str(folder))
        assert taken.exit_code == 2 and "something there already" in taken.output
        assert not is_there(Settings(data_dir=folder), "mere")  # its own folder still stands there
        shutil.rmtree(folder / "houses" / "mere")
        put = run("add", "mere", "--archive", str(archive), "--data", str(folder))
        assert put.exit_code == 0, put.output
        group.houses.look()
        opened(group)
        after = client.get("/houses/mere/api/round").json()
    assert judged(after) == judged(before)
    assert held(folder, others) == kept


def judged(found: dict[str, list[dict[str, list[dict[str, object]]]]]) -> list[tuple[object, ...]]:
    """Return which list each work of a round stands in."""
    works = [work for room in found["rooms"] for work in room["works"]]
    return [(one["work_id"], one["listing"], one["p_visible_now"]) for one in works]


def held(folder: Path, names: tuple[str, ...]) -> dict[str, str]:
    """Return what houses hold: the bytes of their files, the rows of their registers."""
    files = [path for name in names for path in (folder / "houses").rglob(f"{name}*/**/*")]
    files += [folder / "houses" / f"{name}.toml" for name in names]
    found = {}
    for path in files:
        if path.name == "register.db":
            with contextlib.closing(sqlite3.connect(path)) as register:
                found[str(path)] = "\n".join(register.iterdump())
        elif path.is_file() and not path.name.endswith(("-shm", "-wal", ".lock")):
            found[str(path)] = hashlib.sha256(path.read_bytes()).hexdigest()
    return found


@dataclass(frozen=True)
class Ran:
    """What a command came to."""

    exit_code: int
    output: str


def run(*arguments: str) -> Ran:
    """Run a command of the group as the program does."""
    said = io.StringIO()
    ended = pytest.raises(SystemExit)
    with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said), ended as ending:
        main(["group", *arguments])
    return Ran(int(ending.value.code or 0), said.getvalue())


@pytest.mark.long
def test_houses_are_put_in_and_shown_by_command(houses: Path, tmp_path: Path) -> None:
    folder = tmp_path / "group"
    said = ["--name", "Drei Häuser", "--zone", "Europe/Vienna", "--language", "de_AT"]
    assert run("begin", *said, "--data", str(folder)).exit_code == 0
    mere = tmp_path / "elsewhere"
    shutil.copytree(houses / "houses" / "mere", mere)
    for arguments in (("mere", "--museum", str(mere)), ("new",)):
        put = run("add", *arguments, "--data", str(folder))
        assert put.exit_code == 0, put.output
    assert run("add", "new", "--data", str(folder)).exit_code == 2  # taken
    assert run("add", "No/Name", "--data", str(folder)).exit_code == 2
    assert not (folder / "houses" / "No").exists()
    shown = run("show", "--data", str(folder))
    assert shown.exit_code == 0
    assert shown.output.index("mere: Sallowmere") < shown.output.index("new:\n")
    house_file(Settings(data_dir=folder), "odd").write_text("colour = 'red'\n")
    shown = run("show", "--json", "--data", str(folder))
    found = json.loads(shown.output)
    assert shown.exit_code == 1
    assert [one["house"] for one in found["houses"]] == ["mere", "new"]
    assert found["houses"][0]["counts"]["look first"] > 0
    assert "colour" in found["cannot_tell"][0]["cannot_tell"]
    assert run("show", "--data", str(tmp_path / "mistyped")).exit_code == 2


def test_a_house_that_cannot_be_archived_stays_in_the_group(
    houses: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = Path(shutil.copytree(houses, tmp_path / "group"))

    def full(_stores: Stores, folder: Path) -> None:
        raise unwritable(folder, OSError("no room"))

    monkeypatch.setattr("service.commands.group.write_archive", full)
    assert run("take-out", "quay", str(tmp_path / "archive"), "--data", str(folder)).exit_code == 2
    assert is_there(Settings(data_dir=folder), "quay")


@pytest.mark.parametrize(
    ("stated", "said"),
    [
        ("data_dir = 7", "data_dir = 7"),
        ("access = 'open'", "access"),
        ("data_dir = ", "Invalid value"),
    ],
)
def test_a_file_that_cannot_be_read_is_told_of_that_house_alone(
    houses: Path, tmp_path: Path, stated: str, said: str
) -> None:
    group = Settings(data_dir=Path(shutil.copytree(houses, tmp_path / "group")))
    house_file(group, "odd").write_text(stated)
    found = {one.name: str(one.problem) for one in every_house(group) if one.problem}
    assert list(found) == ["odd"] and said in found["odd"]


def test_a_page_of_a_house_leads_to_all_houses_only_where_there_are_several(
    group: httpx.Client, web: httpx.Client
) -> None:
    assert 'href="/houses"' in group.get("/houses/mere/").text
    assert 'href="/houses"' not in web.get("/").text
    assert web.get("/houses").status_code == 404


def test_no_two_houses_share_a_database_or_a_place_in_a_bucket(tmp_path: Path) -> None:
    group = Settings(
        data_dir=tmp_path, store="s3://bucket/group/", register_url="postgresql://host/group"
    )
    own = [write_house(group, name).settings for name in ("mere", "quay")]
    assert [one.store for one in own] == [f"s3://bucket/group/houses/{n}" for n in ("mere", "quay")]
    assert {one.database_url for one in own}.isdisjoint({group.database_url})
    assert len({one.database_url for one in own}) == 2

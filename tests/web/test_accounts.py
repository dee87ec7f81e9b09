"""Accounts: the first administrator, signing in and out, links, throttle, second factor."""

import contextlib
import sqlite3
import time
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path

import httpx
import pyotp
import pytest
from argon2 import PasswordHasher
from fixtures.accounts import PASSWORD, browser, make_accounts, token_on

from analysis.errors import OutOfRangeError, StilltautError
from service.accounts import passwords, second_factor, signing_in
from service.accounts.roles import Role
from service.cli import main
from service.settings import Settings
from service.storage import audit
from service.storage.accounts import sessions
from service.storage.accounts.users import User, known_user, put_user, users
from service.storage.register import now_utc
from service.storage.stores import Stores
from service.storage.tokens import Scope, make_program_token, make_token
from service.web.app import create_app
from service.web.visitors import SESSION

Serve = Callable[..., httpx.Client]
NEW = "another lamp beside four words"


@pytest.fixture
def pages(tmp_path: Path, serve: Serve) -> httpx.Client:
    """An empty museum in which people sign in, an account a role."""
    make_accounts(tmp_path)
    return serve(tmp_path, access="sign-in")


@pytest.fixture
def stores(tmp_path: Path) -> Iterator[Stores]:
    with Stores.open(Settings(data_dir=tmp_path)) as stores:
        yield stores


@pytest.fixture
def another(pages: httpx.Client) -> Iterator[Callable[..., httpx.Client]]:
    """Return another browser at the same pages: ``another(session)``."""
    with contextlib.ExitStack() as stack:
        yield lambda session="": stack.enter_context(browser(pages, session))


def sign_in(client: httpx.Client, name: str, password: str, code: str = "") -> httpx.Response:
    token = token_on(client.get("/sign-in"))
    sent = {"name": name, "password": password, "code": code, "then": "/guides"}
    return client.post("/sign-in", data=sent | token)


def test_the_first_administrator_comes_in_by_a_link_that_holds_once(
    tmp_path: Path, serve: Serve
) -> None:
    with Stores.open(Settings(data_dir=tmp_path)) as stores:
        link = signing_in.first_link(stores.register)
    client = serve(tmp_path, access="sign-in")
    form = client.get(f"/welcome/{link}")
    assert form.headers["referrer-policy"] == "no-referrer"
    assert form.headers["cache-control"] == "no-store"
    sent = {"password": NEW, "again": NEW} | token_on(form)
    assert "not the same" in client.post(f"/welcome/{link}", data=sent | {"again": "x"}).text
    short = {"password": "short", "again": "short"}
    assert "at least" in client.post(f"/welcome/{link}", data=sent | short).text.lower()
    assert client.post(f"/welcome/{link}", data=sent).headers["location"].startswith("/sign-in")
    assert "holds no more" in client.get(f"/welcome/{link}").text
    assert "holds no more" in client.post(f"/welcome/{link}", data=sent).text
    answer = sign_in(client, " Administrator ", NEW)
    assert answer.headers["location"] == "/guides"
    cookie = answer.headers["set-cookie"]
    assert "HttpOnly" in cookie and "SameSite=Lax" in cookie
    assert client.get("/accounts").status_code == 200
    with Stores.open(Settings(data_dir=tmp_path)) as stores:
        assert signing_in.first_link(stores.register) == ""


def test_neither_password_nor_session_nor_link_stands_in_the_register(
    pages: httpx.Client, stores: Stores, tmp_path: Path
) -> None:
    link = sessions.make_link(stores.register, "care", by="a test")
    sign_in(pages, "care", PASSWORD)
    session = pages.cookies[SESSION]
    with sqlite3.connect(tmp_path / "register.db") as register:
        held = "\n".join(register.iterdump())
    assert "$argon2id$" in held
    assert not [text for text in (PASSWORD, link, session) if text in held]


def test_a_hash_is_as_dear_as_the_standard_says(
    own_hasher: PasswordHasher, monkeypatch: pytest.MonkeyPatch
) -> None:
    quick = passwords.password_hash(PASSWORD, "")
    monkeypatch.setattr(passwords, "_HASHER", own_hasher)
    hashed = passwords.password_hash(PASSWORD, "")
    # RFC 9106, section 4, the second recommended option: 64 MiB, three passes, four lanes.
    assert hashed.startswith("$argon2id$v=19$m=65536,t=3,p=4$")
    assert passwords.is_password(PASSWORD, hashed) and not passwords.is_password(NEW, hashed)
    assert passwords.is_outdated(quick) and not passwords.is_outdated(hashed)


def test_signed_out_is_signed_out_everywhere_it_says(
    pages: httpx.Client, another: Callable[..., httpx.Client], stores: Stores
) -> None:
    other = another()
    for one in (pages, other):
        assert sign_in(one, "keep", PASSWORD).status_code == 303
    page = pages.get("/account")
    kept = pages.cookies[SESSION]
    assert "A. Keep" in page.text
    changed = {"old": PASSWORD, "password": NEW, "again": NEW} | token_on(page)
    assert pages.post("/account/password", data=changed | {"old": "x"}).status_code == 422
    assert pages.post("/account/password", data=changed).headers["location"].endswith("changed")
    assert pages.get("/account").status_code == 200
    assert other.get("/account").headers["location"] == "/sign-in?then=%2Faccount"
    pages.post("/sign-out", data=token_on(page))
    assert SESSION not in pages.cookies
    assert another(kept).get("/account").status_code == 303


def test_a_session_ends_by_time(stores: Stores) -> None:
    put_user(stores.register, User("a", "A.", "look"), by="x")
    text = sessions.begin_session(stores.register, "a")
    assert sessions.session_user(stores.register, text, timedelta(hours=8)) is not None
    assert sessions.session_user(stores.register, text, timedelta(0)) is None
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sessions, "now_utc", lambda: now_utc() + sessions.LONGEST * 1.01)
        assert sessions.session_user(stores.register, text, timedelta(days=99)) is None


def test_whoever_is_let_in_no_more_is_out_at_once(pages: httpx.Client, stores: Stores) -> None:
    sign_in(pages, "care", PASSWORD)
    signing_in.change_user(stores.register, "care", role="care", active=False, by="x")
    assert pages.get("/").status_code == 303
    assert sign_in(pages, "care", PASSWORD).status_code == 401
    link = sessions.make_link(stores.register, "care", by="x")
    assert signing_in.choose_password(stores.register, link, NEW) is None


def test_guessing_becomes_slow_and_says_nothing_of_who_there_is(pages: httpx.Client) -> None:
    wrong = sign_in(pages, "keep", "not the password")
    nobody = sign_in(pages, "nobody", "not the password")
    assert (wrong.status_code, nobody.status_code) == (401, 401)
    assert wrong.text.replace("keep", "N").count("belong together") == 1
    assert (
        "nobody" not in nobody.text.replace('value="nobody"', "").split("<main")[1].split("Forg")[0]
    )
    for _ in range(4):
        sign_in(pages, "keep", "not the password")
    late = sign_in(pages, "keep", PASSWORD)
    assert late.status_code == 429
    assert 0 < int(late.headers["retry-after"]) <= 900
    assert sign_in(pages, "care", PASSWORD).status_code == 303


def test_a_form_of_another_browser_is_not_taken(
    pages: httpx.Client, another: Callable[..., httpx.Client]
) -> None:
    other = another()
    foreign = token_on(other.get("/sign-in"))
    pages.get("/sign-in")
    sent = {"name": "keep", "password": PASSWORD}
    assert pages.post("/sign-in", data=sent | foreign).status_code == 403
    assert pages.post("/sign-in", data=sent).status_code == 403
    assert sign_in(pages, "keep", PASSWORD).status_code == 303
    assert pages.post("/sign-out").status_code == 403
    header = {"X-Form-Token": pages.get("/form-token").json()["token"]}
    assert pages.post("/sign-out", headers=header).status_code == 303


def test_one_goes_on_to_this_program_only(
    pages: httpx.Client, another: Callable[..., httpx.Client]
) -> None:
    token = token_on(pages.get("/sign-in"))
    for then in ("https://elsewhere.example/", "//elsewhere.example", "/\\elsewhere.example"):
        one = another()
        token = token_on(one.get("/sign-in"))
        sent = {"name": "look", "password": PASSWORD, "then": then} | token
        assert one.post("/sign-in", data=sent).headers["location"] == "/"


def test_codes_of_a_generator_count_once_and_recovery_codes_too(
    pages: httpx.Client, another: Callable[..., httpx.Client], stores: Stores
) -> None:
    sign_in(pages, "look", PASSWORD)
    page = pages.get("/account")
    secret = page.text.split('name="secret" value="')[1].split('"')[0]
    sent = {"old": PASSWORD, "secret": secret} | token_on(page)
    assert pages.post("/account/factor", data=sent | {"code": "000"}).status_code == 422
    code = pyotp.TOTP(secret).now()
    done = pages.post("/account/factor", data=sent | {"code": code})
    codes = [part.split("<")[0] for part in done.text.split("<li><code>")[1:]]
    assert len(set(codes)) == second_factor.CODES
    other = another()
    assert sign_in(other, "look", PASSWORD).status_code == 401
    assert sign_in(other, "look", PASSWORD, code).status_code == 303
    assert sign_in(another(), "look", PASSWORD, code).status_code == 401  # used already
    assert sign_in(another(), "look", PASSWORD, codes[0].upper()).status_code == 303
    assert sign_in(another(), "look", PASSWORD, codes[0]).status_code == 401
    second_factor.end_second_factor(stores.register, "look", by="x")
    assert sign_in(another(), "look", PASSWORD).status_code == 303
    assert secret not in str(audit.trail(stores.register))


def test_a_code_is_that_of_the_published_example() -> None:
    # RFC 6238, appendix B: the secret "12345678901234567890", SHA-1, at 59 s: 94287082, of which
    # six digits are the last six
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(time, "time", lambda: 59.0)
        secret = "GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ"
        assert second_factor.step_of(secret, "287 082") == 1
        assert second_factor.step_of(secret, "287083") is None


def test_an_administrator_lets_somebody_in_and_nobody_takes_the_last_one_away(
    pages: httpx.Client, stores: Stores
) -> None:
    sign_in(pages, "administer", PASSWORD)
    token = token_on(pages.get("/accounts"))
    new = {"user": "N.Person", "full_name": "N. Person", "role": "care", "email": ""} | token
    made = pages.post("/accounts", data=new)
    link = made.text.split("/welcome/")[1].split("<")[0]
    assert signing_in.choose_password(stores.register, link, NEW) == "n.person"
    assert pages.post("/accounts", data=new).status_code == 422
    last = {"role": "look", "active": "yes"} | token
    refused = pages.post("/accounts/administer/change", data=last)
    assert "the only administrator" in refused.text
    assert known_user(stores.register, "administer").role == Role.ADMINISTER
    with pytest.raises(StilltautError, match="role"):
        signing_in.change_user(stores.register, "n.person", role="king", active=True, by="x")


@pytest.mark.parametrize("password", ["short", "x" * 201, "aaaabbbbaaaabbbb", "keeper-keeper"])
def test_what_is_no_password(password: str) -> None:
    with pytest.raises(OutOfRangeError):
        passwords.password_hash(password, "keeper")


def test_programs_come_in_by_tokens_with_a_scope(pages: httpx.Client, stores: Stores) -> None:
    register = stores.register
    look = make_program_token(register, "report", Scope.LOOK, by="x")[1]
    bring = make_program_token(register, "courier", Scope.BRING_IN, by="x")[1]

    def asked(method: str, path: str, token: str) -> int:
        header = {"Authorization": f"Bearer {token}"}
        return pages.request(method, path, headers=header).status_code

    assert asked("GET", "/api/rooms", "stt_wrong") == 401
    assert asked("GET", "/api/rooms", look) == 200
    assert asked("POST", "/api/uploads", look) == 403
    assert asked("POST", "/api/uploads", bring) == 422  # let in, and nothing was sent
    assert asked("GET", "/round", look) == 303  # a page is no interface
    assert asked("POST", "/api/readings", bring) == 401
    with pytest.raises(OutOfRangeError):
        make_program_token(register, " ", Scope.LOOK, by="x")


def test_a_gateway_reads_nothing(own_museum: Path, serve: Serve) -> None:
    with Stores.open(Settings(data_dir=own_museum)) as stores:
        text = make_token(stores.register, "spare-1", by="x")[1]
    client = serve(own_museum, access="sign-in", as_if="2026-04-10T12:00+00:00")
    header = {"Authorization": f"Bearer {text}"}
    assert client.get("/api/rooms", headers=header).status_code == 401
    batch = {"readings": [{"time": "2026-03-24T10:00:00Z", "temp_c": 20.5, "rh_pct": 47.1}]}
    assert client.post("/api/readings", headers=header, json=batch).status_code == 200


@pytest.mark.parametrize(
    ("settings", "missing"),
    [
        ({"host": "0.0.0.0"}, "STILLTAUT_HOST"),
        ({"host": "museum.example"}, "STILLTAUT_HOST"),
        ({"proxy": "127.0.0.1"}, "STILLTAUT_PROXY"),
        ({"host": "0.0.0.0", "access": "sign-in"}, "without encryption"),
        ({"access": "everybody"}, "STILLTAUT_ACCESS"),
        ({"access": "sign-in", "tls_cert": "c.pem"}, "STILLTAUT_TLS"),
    ],
)
def test_it_refuses_to_be_open_to_others(
    tmp_path: Path, settings: dict[str, str], missing: str
) -> None:
    with pytest.raises(StilltautError, match=missing):
        create_app(Settings(data_dir=tmp_path).with_changes(**settings))


@pytest.mark.parametrize(
    "settings",
    [
        {"host": "localhost"},
        {"host": "::1", "access": "sign-in"},
        {"host": "0.0.0.0", "access": "sign-in", "proxy": "192.0.2.7"},
        {"host": "0.0.0.0", "access": "sign-in", "tls_cert": "c.pem", "tls_key": "k.pem"},
    ],
)
def test_it_may_be_served_so(tmp_path: Path, settings: dict[str, str]) -> None:
    assert create_app(Settings(data_dir=tmp_path).with_changes(**settings))


def test_open_pages_say_so_and_let_nobody_in_through_a_proxy(web: httpx.Client) -> None:
    for page in ("/", "/round", "/works", "/no-such-page"):
        assert "Nobody signs in here" in web.get(page).text
    for sent in ({"X-Forwarded-For": "192.0.2.7"}, {"Via": "1.1 proxy"}):
        assert web.get("/", headers=sent).status_code == 403


def test_nothing_is_taken_in_the_open_where_people_sign_in(pages: httpx.Client) -> None:
    answer = pages.get("/sign-in", headers={"X-Forwarded-For": "192.0.2.7"})
    assert answer.status_code == 403
    assert "encryption" in answer.text


def test_a_change_says_who_was_signed_in_and_on_which_page(own_museum: Path, serve: Serve) -> None:
    make_accounts(own_museum)
    client = serve(own_museum, access="sign-in")
    sign_in(client, "keep", PASSWORD)
    work = client.get("/works/2018-02")
    form = token_on(work) | {"grade": "1", "by": "Somebody Else", "edges": ""}
    came = {"Referer": f"{client.base_url}/round?room=north"}
    client.post("/works/2018-02/inspections", data=form, headers=came)
    told = client.get("/changes?work=2018-02").text
    first = told.split("<li>")[1]
    assert "Somebody Else (account keep), on /round" in first
    assert "Who changed what of " in told
    assert client.get("/changes?room=north").status_code == 200
    assert client.get("/changes?work=nothing").status_code == 404
    with Stores.open(Settings(data_dir=own_museum)) as stores:
        (line,) = audit.lines_about(stores.register, work="2018-02", limit=1)
    assert (line.account, line.page, line.by) == ("keep", "/round", "Somebody Else")


def test_names_in_the_trail_are_not_taken_for_others(stores: Stores) -> None:
    with stores.register.writing() as session:
        for key, after in (
            ({"room": "n"}, {"name": "x"}),
            ({"room": "north"}, {"name": "x"}),
            ({"number": 1}, {"room": "n", "why": 'he said "room": "north"'}),
            ({"number": 2}, {"room": "ñ%"}),
        ):
            audit.note(session, by="x", what="users", key=key, before=None, after=after)
    about = {r: [x.key for x in audit.lines_about(stores.register, room=r)] for r in ("n", "ñ%")}
    assert about == {"n": ["number=1", "room=n"], "ñ%": ["number=2"]}


def test_the_command_line_lets_the_last_administrator_in_again(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], stores: Stores
) -> None:
    make_accounts(tmp_path)
    where = ["--data", str(tmp_path)]
    for command, said in (
        ([], "administer"),
        (["--reset", "administer"], "/welcome/"),
        (["--add", "another", "--role", "keep"], "/welcome/"),
        (["--without-code", "administer"], "without a code"),
        (["--erase", "care"], "still let in"),
    ):
        with pytest.raises(SystemExit) as ended:
            main(["account", *command, *where])
        told = capsys.readouterr()
        assert said in told.out + told.err
        assert ended.value.code == (2 if "--erase" in command else 0), told.err
    assert known_user(stores.register, "another").role == Role.KEEP


def test_a_closed_account_is_erased_with_all_that_is_its(tmp_path: Path, stores: Stores) -> None:
    sessions_by_role = make_accounts(tmp_path)
    signing_in.change_user(stores.register, "care", role="care", active=False, by="a test")
    signing_in.link_for(stores.register, "care", by="a test")
    signing_in.erase(stores.register, "care", by="a test")
    assert "care" not in {one.user for one in users(stores.register)}
    held = sessions.session_user(stores.register, sessions_by_role[Role.CARE], timedelta(hours=1))
    assert held is None
    with sqlite3.connect(tmp_path / "register.db") as database:
        for table in ("users", "sessions", "sign_in_links", "attempts"):
            left = database.execute(f"SELECT count(*) FROM {table} WHERE user = 'care'")
            assert left.fetchone() == (0,)

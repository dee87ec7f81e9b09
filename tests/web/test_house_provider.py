"""Signing in through the house's own OpenID Connect provider: a real one, in its own process."""

import contextlib
import re
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from urllib.parse import parse_qs, urlsplit

import httpx
import pytest
from fixtures.accounts import browser
from fixtures.serving import served

from analysis.errors import StilltautError
from service.accounts.house_provider import provider_of
from service.settings import Settings
from service.storage.accounts.users import User, put_user
from service.storage.stores import Stores
from service.web.routes.house_sign_in import SENT
from service.web.visitors import SESSION

PERSON = "a.person@museum.example"


def free_port() -> int:
    with contextlib.closing(socket.socket()) as free:
        free.bind(("127.0.0.1", 0))
        return int(free.getsockname()[1])


@pytest.fixture(scope="module")
def provider() -> Iterator[httpx.Client]:
    """The provider; whoever is named on its form is signed in, with claims put there before."""
    port = free_port()
    command = [sys.executable, "-W", "ignore", "-m", "oidc_provider_mock", "--port", str(port),
               "--require-nonce"]  # fmt: skip
    with (
        subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as process,
        httpx.Client(base_url=f"http://127.0.0.1:{port}", timeout=60.0) as client,
    ):
        try:
            for _ in range(600):
                with contextlib.suppress(httpx.TransportError):
                    client.get("/.well-known/openid-configuration")
                    break
                time.sleep(0.1)
            yield client
        finally:
            process.terminate()


@pytest.fixture(scope="module")
def pages(
    provider: httpx.Client, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[httpx.Client]:
    """An empty museum with one account that the house knows, and two that share an address."""
    folder: Path = tmp_path_factory.mktemp("house") / "museum"
    with Stores.open(Settings(data_dir=folder)) as stores:
        for user in (
            User("a.person", "A. Person", "care", PERSON.upper()),
            User("gone", "G. One", "keep", "gone@museum.example", active=False),
            User("two", "T. Wo", "keep", "both@museum.example"),
            User("three", "T. Hree", "keep", "both@museum.example"),
        ):
            put_user(stores.register, user, by="a test")
    port = free_port()
    own = {
        "oidc_issuer": str(provider.base_url).rstrip("/"),
        "oidc_client_id": "stilltaut",
        "oidc_client_secret": "a secret",
        "base_url": f"http://127.0.0.1:{port}",
    }
    with served(folder, access="sign-in", **own) as client, client:
        yield client


@pytest.fixture
def person(pages: httpx.Client) -> Iterator[httpx.Client]:
    with browser(pages) as own:
        yield own


def sent_back(person: httpx.Client, provider: httpx.Client, claims: dict[str, object]) -> str:
    """Go to the provider, sign in there, and return the way back, without the host."""
    provider.put("/users/someone", json=claims).raise_for_status()
    there = person.get("/sign-in/house?then=/guides").headers["location"]
    answer = provider.post(there, data={"sub": "someone"})
    assert answer.status_code == 302, answer.text
    back = urlsplit(answer.headers["location"])
    return f"{back.path}?{back.query}"


def test_who_is_vouched_for_comes_in_and_goes_on(
    person: httpx.Client, provider: httpx.Client
) -> None:
    page = person.get("/sign-in?then=/guides")
    assert "/sign-in/house?then=%2Fguides" in page.text
    back = sent_back(person, provider, {"email": PERSON, "email_verified": True})
    answer = person.get(back)
    assert answer.headers["location"] == "/guides"
    assert person.cookies.get(SENT) is None
    own = person.get("/account")
    assert "a.person" in own.text
    assert person.get("/house").status_code == 403  # what they may do stands in our own register


def test_who_came_by_the_provider_may_sign_out_there_too(
    person: httpx.Client, provider: httpx.Client
) -> None:
    person.get(sent_back(person, provider, {"email": PERSON, "email_verified": True}))
    token = person.get("/form-token").json()["token"]
    out = person.post("/sign-out", data={"form_token": token})
    page = person.get(out.headers["location"])
    assert "You are signed out." in page.text
    assert 'href="/sign-out/house"' in page.text
    there = person.get("/sign-out/house")
    address = urlsplit(there.headers["location"])
    known = provider.get("/.well-known/openid-configuration").json()["end_session_endpoint"]
    assert there.headers["location"].startswith(known)
    asked = {name: values[0] for name, values in parse_qs(address.query).items()}
    assert asked["client_id"] == "stilltaut"
    assert urlsplit(asked["post_logout_redirect_uri"]).path == "/sign-in"
    form = provider.get(there.headers["location"])
    back = re.findall(r'name="redirect_uri"[^>]*value="([^"]+)"', form.text)[0]
    left = provider.post("/oauth2/end_session/confirm", data={"redirect_uri": back})
    assert left.status_code == 302
    assert urlsplit(left.headers["location"]).path == "/sign-in"
    again = person.get("/sign-in?done=out")
    assert "/sign-out/house" not in again.text  # asked once


def test_who_came_by_a_password_is_not_sent_there(person: httpx.Client) -> None:
    assert "/sign-out/house" not in person.get("/sign-in?done=out").text


@pytest.mark.parametrize(
    ("claims", "found"),
    [
        ({"email": "stranger@museum.example"}, "no account here"),
        ({"email": "gone@museum.example"}, "no account here"),
        ({"email": "both@museum.example"}, "2 accounts here"),
        ({"email": PERSON, "email_verified": False}, "no e-mail address for which"),
        ({}, "no e-mail address for which"),
    ],
)
def test_others_do_not(
    person: httpx.Client, provider: httpx.Client, claims: dict[str, object], found: str
) -> None:
    answer = person.get(sent_back(person, provider, claims))
    assert answer.status_code == 422
    assert found in answer.text
    assert person.cookies.get(SESSION) is None


def test_an_answer_counts_once_and_in_its_own_browser(
    person: httpx.Client, pages: httpx.Client, provider: httpx.Client
) -> None:
    back = sent_back(person, provider, {"email": PERSON})
    with browser(pages) as other:
        assert other.get(back).status_code == 422
        other.get("/sign-in/house")  # sent there itself: the state is another
        assert other.get(back).status_code == 422
        assert other.cookies.get(SESSION) is None
    changed = re.sub(r"state=\w+", "state=0", back)
    kept = dict(person.cookies)
    assert person.get(changed).status_code == 422
    person.cookies.update(kept)
    assert person.get(back).status_code == 303
    person.cookies.clear()
    person.cookies.update(kept)
    assert person.get(back).status_code == 422  # the code is used up


def test_the_browser_is_sent_with_all_that_ties_the_answer_to_it(person: httpx.Client) -> None:
    there = person.get("/sign-in/house").headers["location"]
    asked = {name: values[0] for name, values in parse_qs(urlsplit(there).query).items()}
    assert asked["response_type"] == "code" and asked["code_challenge_method"] == "S256"
    assert len({asked["state"], asked["nonce"], asked["code_challenge"]}) == 3
    assert asked["redirect_uri"].endswith("/sign-in/house/back")
    assert "a secret" not in there


def test_a_provider_that_does_not_answer_is_said_to(
    tmp_path: Path, serve: Callable[..., httpx.Client]
) -> None:
    nobody = f"http://127.0.0.1:{free_port()}"
    own = {"oidc_issuer": nobody, "oidc_client_id": "s", "oidc_client_secret": "s",
           "base_url": "http://127.0.0.1"}  # fmt: skip
    answer = serve(tmp_path / "museum", access="sign-in", **own).get("/sign-in/house")
    assert answer.status_code == 422
    assert "does not answer" in answer.text


@pytest.mark.parametrize(
    ("changes", "wrong"),
    [
        ({"oidc_client_id": ""}, "STILLTAUT_OIDC_CLIENT_ID"),
        ({"base_url": ""}, "STILLTAUT_BASE_URL"),
        ({"oidc_issuer": "http://sso.museum.example"}, "STILLTAUT_OIDC_ISSUER"),
    ],
)
def test_half_a_provider_is_not_served(changes: dict[str, str], wrong: str) -> None:
    whole = {
        "oidc_issuer": "https://sso.museum.example", "oidc_client_id": "s",
        "oidc_client_secret": "s", "base_url": "https://climate.museum.example",
    }  # fmt: skip
    assert provider_of(Settings().with_changes(**whole)) is not None
    with pytest.raises(StilltautError) as problem:
        provider_of(Settings().with_changes(**(whole | changes)))
    assert problem.value.where == wrong

"""The page of who is told of what: entered, tested, taken out; limits kept with owner and date."""

from collections.abc import Callable
from pathlib import Path

import httpx
import pytest

from service.notices.arrangements import arrangement
from service.settings import Settings
from service.storage.outbox import letters
from service.storage.people import contacts
from service.storage.stores import Stores

PERSON = {
    "name": "M. Keeper",
    "email": "keeper@museum.invalid",
    "telephone": "01 234 56",
    "on_call": "yes",
    "after_h": "0",
    "by": "A. Person",
}


@pytest.fixture
def house(serve: Callable[[Path], httpx.Client], tmp_path: Path) -> httpx.Client:
    return serve(tmp_path)


def test_a_person_is_entered_and_taken_out_again(house: httpx.Client, tmp_path: Path) -> None:
    page = house.post("/notices/people/people", data=PERSON, follow_redirects=True)
    assert page.status_code == 200
    assert "M. Keeper is told at once. To be called: M. Keeper, 01 234 56." in page.text
    with Stores.open(Settings(data_dir=tmp_path)) as stores:
        (one,) = contacts(stores.register)
    gone = house.post(
        f"/notices/people/{one.id}/remove", data={"by": "A. Person"}, follow_redirects=True
    )
    assert "01 234 56" not in gone.text
    assert house.post("/notices/people/99/remove", data={"by": "x"}).status_code == 422


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("name", "", "a name in one line"),
        ("name", "two\nlines", "a name in one line"),
        ("email", "not an address", "one address"),
        ("email", "a@b.invalid\r\nBcc: c@d.invalid", "one address"),
        ("after_h", "soon", "a number of hours"),
        ("after_h", "nan", "a number of hours"),
        ("review_on", "31/02/2027", "a date"),
        ("by", "", "who changes this"),
    ],
)
def test_what_cannot_be_is_said_and_not_kept(
    house: httpx.Client, tmp_path: Path, field: str, value: str, words: str
) -> None:
    page = house.post("/notices/people/people", data=PERSON | {field: value})
    assert page.status_code == 422
    assert words in page.text
    assert "Nothing was stored" in page.text
    with Stores.open(Settings(data_dir=tmp_path)) as stores:
        assert contacts(stores.register) == ()


def test_limits_are_kept_with_owner_and_reason(house: httpx.Client, tmp_path: Path) -> None:
    sent = {
        "silence_days": "3",
        "quiet_h": "6",
        "long_excursion_h": "24",
        "again_h": "6",
        "quiet_from": "22:00",
        "quiet_to": "07:00",
        "again_rh_pct": "5",
        "air_waits": "yes",
        "who": "M. Keeper",
        "why": "read twice a week",
    }
    page = house.post("/notices/people/limits", data=sent, follow_redirects=True)
    assert "Set by M. Keeper on" in page.text
    assert "read twice a week" in page.text
    with Stores.open(Settings(data_dir=tmp_path)) as stores:
        held = arrangement(stores.register)
    assert held.limits.silence_days == 3.0
    assert (held.values.quiet_from, held.values.air_waits) == ("22:00", True)
    wrong = house.post("/notices/people/limits", data=sent | {"silence_days": "-1"})
    assert wrong.status_code == 422
    assert "a number from 0.05 to 200 days" in wrong.text.replace("\N{NO-BREAK SPACE}", " ")
    late = house.post("/notices/people/limits", data=sent | {"quiet_from": "25:00"})
    assert late.status_code == 422
    assert "a time of day such as 22:00" in late.text
    with Stores.open(Settings(data_dir=tmp_path)) as stores:
        assert arrangement(stores.register).limits.silence_days == 3.0


def test_a_test_without_a_mail_server_says_so(house: httpx.Client, tmp_path: Path) -> None:
    house.post("/notices/people/people", data=PERSON)
    with Stores.open(Settings(data_dir=tmp_path)) as stores:
        (one,) = contacts(stores.register)
    page = house.post(f"/notices/people/{one.id}/test", follow_redirects=True)
    assert "No mail server is set" in page.text
    with Stores.open(Settings(data_dir=tmp_path)) as stores:
        assert letters(stores.register) == ()

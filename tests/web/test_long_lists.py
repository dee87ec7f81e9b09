"""A house with more works than a page holds: every work stands on one page, and none on two."""

import re
from collections.abc import Iterator

import httpx
import pytest
from bench.full_museum import MORNING, Size, hang, put_rooms, work_name
from fixtures.serving import served

from dashboards.pages.long_list import leaf_at, whole_groups
from service.settings import Settings
from service.storage.stores import Stores

# No readings: what is said of each work is "cannot tell", at once.
LARGE = Size(rooms=5, works=160)


@pytest.fixture(scope="module")
def large(tmp_path_factory: pytest.TempPathFactory) -> Iterator[httpx.Client]:
    folder = tmp_path_factory.mktemp("large") / "museum"
    made = Settings(data_dir=folder, as_if=MORNING.isoformat())
    with Stores.open(made) as stores, stores.register.writing():
        put_rooms(stores.register, LARGE)
        for number in range(LARGE.works):
            hang(stores.register, number, LARGE)
    with served(folder, as_if=MORNING.isoformat()) as client, client:
        yield client


def parts(client: httpx.Client, address: str) -> list[str]:
    """Return the pages of a long list, from the first by each page's own link."""
    found = [client.get(address).text]
    while following := re.search(r'rel="next" href="([^"]+)"', found[-1]):
        found.append(client.get(following[1].replace("&amp;", "&")).text)
    return found


def test_works_stand_page_by_page_and_each_on_one(large: httpx.Client) -> None:
    pages = parts(large, "/works")
    listed = [re.findall(r'href="/works/(W-\d+)">Plate', page) for page in pages]
    assert [len(one) for one in listed] == [50, 50, 50, 10]
    assert [work for one in listed for work in one] == [work_name(n) for n in range(160)]
    assert "51–100 of 160" in pages[1]
    assert 'rel="prev" href="/works"' in pages[1]
    assert "160 works" in pages[1]


def test_what_is_searched_for_goes_along(large: httpx.Client) -> None:
    pages = parts(large, "/works?search=plate+1")
    listed = [re.findall(r'href="/works/(W-\d+)">Plate', page) for page in pages]
    wanted = [work_name(n) for n in range(160) if "1" in f"{work_name(n)} gallery {n % 5}"]
    assert len(wanted) > 50
    assert [work for one in listed for work in one] == wanted
    assert all('value="plate 1"' in page for page in pages)
    assert 'rel="next" href="/works?search=plate+1&amp;after=50"' in pages[0]


def test_beyond_the_end_the_last_page_is_shown_and_before_the_first_nothing(
    large: httpx.Client,
) -> None:
    assert "151–160 of 160" in large.get("/works?after=5000").text
    assert large.get("/works?after=-1").status_code == 422
    assert large.get("/round?after=x").status_code == 422


def test_the_round_goes_by_whole_rooms_and_says_so(large: httpx.Client) -> None:
    pages = parts(large, "/round")
    listed = [re.findall(r'data-work="(W-\d+)"', page) for page in pages]
    assert [len(one) for one in listed] == [96, 64]
    assert sorted(work for one in listed for work in one) == [work_name(n) for n in range(160)]
    assert "1–96 of 160" in pages[0]
    assert 'data-part="/round?after=96"' in pages[0]
    assert 'data-part=""' in pages[1]
    assert 'name="back" value="/round?after=96"' in pages[1]


def test_one_room_and_the_whole_round_come_on_one_page(large: httpx.Client) -> None:
    room = large.get("/round?room=room-01").text
    assert len(re.findall("data-work=", room)) == 32
    whole = large.get("/round?whole=yes").text
    assert len(re.findall("data-work=", whole)) == 160
    assert "data-part" not in whole + room
    assert 'rel="next"' not in whole + room
    assert len(large.get("/api/round").json()["rooms"]) == 5


def test_after_a_look_the_same_page_comes_again(large: httpx.Client) -> None:
    back = "/round?after=96"
    form = {"grade": "0", "by": "A. Person", "back": back}
    answer = large.post(f"/works/{work_name(4)}/inspections", data=form)
    assert answer.status_code == 303, answer.text
    assert answer.headers["location"].startswith(back + "&saved=")
    page = large.get(answer.headers["location"]).text
    assert "Saved:" in page
    assert "97–160 of 160" in page


@pytest.mark.parametrize(
    ("sizes", "bounds"),
    [
        ([100, 1], [0, 100, 101]),
        ([250], [0, 250]),
        ([0, 0, 3], [0, 3]),
        ([50, 50, 1], [0, 100, 101]),
    ],
)
def test_groups_are_kept_whole(sizes: list[int], bounds: list[int]) -> None:
    assert whole_groups(sizes, 100) == bounds


def test_a_list_of_nothing_has_one_empty_part() -> None:
    assert leaf_at([0], 0, str).words == ""
    assert leaf_at([0], 7, str).total == 0

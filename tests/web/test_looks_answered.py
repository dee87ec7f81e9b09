"""A look with its photograph, and what it does to an estimate that had said otherwise."""

import csv
import io
import re
import time
from collections.abc import Callable
from dataclasses import replace
from html import unescape
from pathlib import Path

import httpx
import numpy as np
import pytest
from click.testing import CliRunner
from PIL import Image

from service.cli import stilltaut
from service.intake.photographs import LONG_SIDE_PX, made_anew
from service.intake.verification import verify
from service.settings import Settings
from service.storage.inspections import inspections
from service.storage.stores import Stores

WORK = "2018-02"
JSON = {"Accept": "application/json"}
GPS, WHERE = 0x8825, {1: "N", 2: (53.0, 20.0, 30.0), 3: "W", 4: (6.0, 15.0, 0.0)}


@pytest.fixture
def own(own_museum: Path, serve: Callable[[Path], httpx.Client]) -> httpx.Client:
    return serve(own_museum)


def said(page: httpx.Response) -> str:
    text = unescape(re.sub(r"<[^>]+>", " ", page.text))
    return re.sub(r"\s+", " ", text.replace("\N{NO-BREAK SPACE}", " "))


def picture(width: int = 2400, height: int = 1200, kind: str = "JPEG") -> bytes:
    """Return a photograph as a phone writes one: lying, with where it was taken."""
    tones = np.linspace(0, 255, width * height, dtype=np.uint8).reshape(height, width)
    image = Image.fromarray(tones)
    exif = Image.Exif()
    exif[0x0112] = 6  # to be turned by a quarter
    exif.get_ifd(GPS).update(WHERE)
    out = io.BytesIO()
    image.save(out, kind, exif=exif)
    return out.getvalue()


def seen_in(folder: Path) -> list[str]:
    with Stores.open(Settings(data_dir=folder)) as stores:
        return [one.photograph for one in inspections(stores.register, WORK, with_withdrawn=True)]


def files_in(folder: Path) -> list[str]:
    return sorted(one.name for one in (folder / "photographs").glob("??/*"))


def test_a_photograph_loses_its_place_and_its_size() -> None:
    data = picture()
    assert dict(Image.open(io.BytesIO(data)).getexif().get_ifd(GPS)) != {}
    kept = Image.open(io.BytesIO(made_anew(data)))
    assert kept.size == (LONG_SIDE_PX // 2, LONG_SIDE_PX)  # upright, and no longer than this
    assert dict(kept.getexif()) == {}
    assert b"Exif" not in made_anew(data)
    assert Image.open(io.BytesIO(made_anew(picture(40, 30, "PNG")))).size == (30, 40)


def test_a_photograph_is_kept_shown_and_removed_with_undo(
    own: httpx.Client, own_museum: Path, tmp_path: Path
) -> None:
    sent = {"grade": "0", "by": "A. Person", "at": "2026-03-22T22:00Z"}
    files = {"photograph": ("look.jpg", picture(), "image/jpeg")}
    answer = own.post(f"/works/{WORK}/inspections", data=sent, files=files, headers=JSON).json()
    page = own.get(f"/works/{WORK}")
    small = re.findall(r'src="(/photographs/[^"]+)"', page.text)
    assert len(small) == 1
    shown = own.get(small[0])
    assert shown.headers["content-type"] == "image/jpeg"
    assert max(Image.open(io.BytesIO(shown.content)).size) == 320
    name = seen_in(own_museum)[-1]
    assert [one.removesuffix(".zst") for one in files_in(own_museum)] == [name]
    restored_from_an_archive(own_museum, tmp_path, name)
    own.post(answer["undo"], data={"back": "/round"})
    assert files_in(own_museum) == []
    assert "/photographs/" not in own.get(f"/works/{WORK}").text
    assert seen_in(own_museum)[-1] == ""


def restored_from_an_archive(museum: Path, tmp_path: Path, name: str) -> None:
    """Write the archive, read its register into an empty house, and find the photograph there."""
    run = CliRunner().invoke
    assert run(stilltaut, ["archive", str(tmp_path / "a"), "--data", str(museum)]).exit_code == 0
    register = tmp_path / "a" / "register"
    with (register / "inspections.csv").open(encoding="utf-8") as lines:
        assert name in [one["photograph"] for one in csv.DictReader(lines)]
    new = tmp_path / "new"
    with Stores.open(Settings(data_dir=new)) as stores:
        assert stores.photographs.read_from(register / "photographs") == 1
        assert (
            stores.photographs.read(name) == (register / "photographs" / f"{name}.jpg").read_bytes()
        )


def test_check_misses_a_photograph(own: httpx.Client, own_museum: Path) -> None:
    files = {"photograph": ("look.png", picture(50, 50, "PNG"), "image/png")}
    sent = {"grade": "1", "by": "A. Person", "at": "2026-03-22T22:00Z"}
    own.post(f"/works/{WORK}/inspections", data=sent, files=files)
    with Stores.open(Settings(data_dir=own_museum)) as stores:
        name = next(one.photograph for one in inspections(stores.register) if one.photograph)
        assert not [one for one in verify(stores) if one.read == "photographs"]
        stores.photographs.drop(name)
        assert [one.where for one in verify(stores) if one.read == "photographs"] == [name]


@pytest.mark.parametrize(
    ("data", "found"),
    [
        (b"not a picture", "no picture that can be read"),
        (b"GIF89a" + bytes(20), "no picture that can be read"),
        (bytes(25 * 1024 * 1024 + 1), "more than 25 MB"),
    ],
    ids=["text", "another kind", "too large"],
)
def test_what_is_no_photograph_is_told_and_nothing_is_kept(
    own: httpx.Client, own_museum: Path, data: bytes, found: str
) -> None:
    before = seen_in(own_museum)
    sent = {"grade": "0", "by": "A. Person", "at": "2026-03-22T22:00Z"}
    answer = own.post(
        f"/works/{WORK}/inspections", data=sent, files={"photograph": ("a.jpg", data)}
    )
    assert answer.status_code == 422
    assert found in said(answer)
    assert (seen_in(own_museum), files_in(own_museum)) == (before, [])


def test_too_many_pixels_are_refused_unopened() -> None:
    out = io.BytesIO()
    Image.new("1", (9000, 8000)).save(out, "PNG")
    with pytest.raises(Exception, match="9000 × 8000 pixels"):
        made_anew(out.getvalue())


def test_a_look_that_strongly_disagrees_is_answered(own: httpx.Client, own_museum: Path) -> None:
    judged = own.get("/api/round").json()
    works = [one for room in judged["rooms"] for one in room["works"] if one["p_visible_now"]]
    surely = max(works, key=lambda one: one["p_visible_now"])
    assert surely["p_visible_now"] > 0.7
    before = f"{100 * surely['p_visible_now']:.0f}"
    sent = {"grade": "0", "by": "A. Person", "at": "2026-03-22T22:30Z"}
    answer = own.post(f"/works/{surely['work_id']}/inspections", data=sent, headers=JSON).json()
    for _ in range(240):
        found = own.get(answer["answer"]).json()
        if found["done"]:
            break
        time.sleep(0.25)
    words = f"It was seen flat; the estimate had said {before} % that waves show, and now says "
    assert words in found["answer"].replace("\N{NO-BREAK SPACE}", " ")
    for page in ("/round", f"/works/{surely['work_id']}"):
        assert words in said(own.get(page))
    with Stores.open(Settings(data_dir=own_museum)) as stores:
        last = inspections(stores.register, surely["work_id"])[-1]
        assert last.estimate_p == pytest.approx(surely["p_visible_now"], abs=0.005)
    agreed = own.post(
        f"/works/{surely['work_id']}/inspections", data=sent | {"grade": "2", "again": "instead"}
        | {"at": "2026-03-22T22:31Z"}, headers=JSON,
    )  # fmt: skip
    assert agreed.status_code == 200
    assert "It was seen flat" not in said(own.get(f"/works/{surely['work_id']}"))


def test_a_look_sent_again_keeps_what_had_been_said(own: httpx.Client, own_museum: Path) -> None:
    own.get("/round")
    sent = {"grade": "0", "by": "A. Person", "at": "2026-03-22T22:30Z"}
    for _ in range(2):
        own.post(f"/works/{WORK}/inspections", data=sent, headers=JSON)
        own.get("/round")
    with Stores.open(Settings(data_dir=own_museum)) as stores:
        one = inspections(stores.register, WORK)[-1]
        first = replace(one, estimate_p=None)
    assert one.estimate_p is not None
    assert first.grade == 0

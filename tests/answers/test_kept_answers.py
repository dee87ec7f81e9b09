"""What was said of a room is read back to the letter by another process, while it holds."""

import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from analysis.records.inspection_records import Inspection
from analysis.results import HISTORY_ARRAYS, RoomWeek
from service.answers import kept_answers
from service.answers.museum import Museum
from service.answers.rounds import museum_round, round_json
from service.settings import Settings
from service.storage.inspections import put_inspection
from service.storage.stores import Stores

AT = "2026-03-22T21:00+00:00"


@contextmanager
def opened(folder: Path, as_if: str = AT) -> Iterator[Museum]:
    settings = Settings(data_dir=folder, draws=40, as_if=as_if)
    with Stores.open(settings) as stores:
        yield Museum(stores, settings)


@pytest.fixture
def judged(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The rooms that were judged; the judging is real."""
    seen: list[str] = []
    real = Museum.room_over

    def noted(museum: Museum, room_id: str, *given: Any) -> Any:
        found = real(museum, room_id, *given)
        seen.extend([room_id] * bool(found))  # where no work hangs there is nothing to judge
        return found

    monkeypatch.setattr(Museum, "room_over", noted)
    return seen


def the_week(museum: Museum) -> RoomWeek:
    return museum.room_week("north", "2026-W12")


def test_another_process_says_the_same_to_the_letter_without_judging(
    own_museum: Path, judged: list[str]
) -> None:
    with opened(own_museum) as museum:
        said = repr(round_json(museum_round(museum), museum.zone))
        week = the_week(museum)
    assert "north" in judged
    judged.clear()
    with opened(own_museum) as museum:
        assert repr(round_json(museum_round(museum), museum.zone)) == said
        again = the_week(museum)
    assert judged == []
    assert [repr(one) for one in again.judgements] == [repr(one) for one in week.judgements]
    assert again.works == week.works
    assert again.histories.keys() == week.histories.keys() and week.histories
    for work_id, history in week.histories.items():
        for name in HISTORY_ARRAYS:
            told, wanted = (getattr(h, name) for h in (again.histories[work_id], history))
            np.testing.assert_array_equal(told, wanted, err_msg=name)
        assert again.histories[work_id].slack_causes == history.slack_causes


def look(museum: Museum, grade: int) -> None:
    work = museum.works_in("north", museum.now())[0].work_id
    seen = Inspection(work, museum.now() - timedelta(hours=2), grade, by="A. Person")
    put_inspection(museum.stores.register, seen)


def test_what_has_changed_is_judged_anew(
    own_museum: Path, judged: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def asked(as_if: str = AT, before: Callable[[Museum], None] = lambda _museum: None) -> str:
        judged.clear()
        with opened(own_museum, as_if) as museum:
            before(museum)
            return repr(museum.told("north"))

    first = asked()
    assert asked() == first and judged == []
    seen = asked(before=lambda museum: look(museum, 3))
    assert seen != first and judged == ["north"]
    assert asked() == seen and judged == []
    assert asked("2026-03-22T22:00+00:00") != seen and judged == ["north"]
    asked()
    monkeypatch.setattr(kept_answers, "calculation", lambda: {"its source": "another"})
    assert asked() == seen and judged == ["north"]


def test_a_register_that_was_put_back_gets_its_own_answers(
    own_museum: Path, tmp_path: Path, judged: list[str]
) -> None:
    register, copy = own_museum / "register.db", tmp_path / "copy.db"
    with opened(own_museum) as museum:
        numbers = museum.versions().newest
    shutil.copy(register, copy)
    said = []
    for grade in (3, 1):
        shutil.copy(copy, register)
        judged.clear()
        with opened(own_museum) as museum:
            look(museum, grade)
            assert museum.versions().newest == numbers + 1, "the same number each time"
            said.append([one.judgement.because for one in museum.told("north")])
        assert judged == ["north"]
    assert said[0] != said[1]


def test_what_changes_meanwhile_is_not_kept_under_what_was_before(
    own_museum: Path, judged: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    real = Museum.assessed

    def disturbed(museum: Museum, *given: Any) -> Any:
        look(museum, 3)
        return real(museum, *given)

    with opened(own_museum) as museum, museum.stores.register.one_moment():
        for week in museum.stores.results.names_in("answers/north"):
            museum.stores.results.forget(f"answers/north/{week}")
        museum.concerned("north", museum.now())
        with monkeypatch.context() as patch:
            patch.setattr(Museum, "assessed", disturbed)
            museum.told("north")
        assert museum.stores.results.names_in("answers/north") == []
    judged.clear()
    with opened(own_museum) as museum:
        museum.told("north")
        assert museum.stores.results.names_in("answers/north") == ["now"]
    assert judged == ["north"]


def test_what_could_not_be_computed_is_tried_again(
    own_museum: Path, judged: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as patch:
        patch.setattr("service.estimates.last_reading.run_from_checkpoint", _failing)
        with opened(own_museum) as museum:
            assert any(one.judgement.impossible for one in museum.told("north"))
    judged.clear()
    with opened(own_museum) as museum:
        museum.told("north")
    assert judged == ["north"]


def _failing(*_given: Any, **_named: Any) -> None:
    raise ArithmeticError("for once")

"""``stilltaut half-time`` on a small register with sixty days of paired readings."""

from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from analysis.records.room_records import Place
from service.cli import stilltaut
from service.storage.works import work_record


def asked(work: Any, *words: str) -> Any:
    data = str(work.stores.folder)
    runner = CliRunner()
    return runner.invoke(stilltaut, ["half-time", *words, "--data", data], standalone_mode=False)


def test_a_sound_fit_is_said_and_ends_well(paired_work: Any) -> None:
    answer = asked(paired_work, "W1")
    assert answer.return_value == 0
    assert answer.output.startswith(
        "How fast does the frame of Kite over the weir follow the room?"
    )
    assert "Half of the way in about 18 h" in answer.output
    assert "Usual for its build: glazed, board back, paper-taped: 18 h (4 h to 3 days)" in (
        answer.output
    )
    assert work_record(paired_work.stores.register, "W1").measured == ()


def test_use_writes_it_down(paired_work: Any) -> None:
    answer = asked(paired_work, "W1", "--use", "--by", "A. Person")
    assert answer.return_value == 0
    assert "In use since" in answer.output
    assert "the frame was as warm as the room’s logger" in answer.output
    rows = work_record(paired_work.stores.register, "W1").measured
    assert {row.name for row in rows} == {"half_time_h", "frame_minus_logger_k"}


@pytest.mark.parametrize(
    ("name", "opening"), [("a.svg", b"<?xml"), ("a.png", b"\x89PNG"), ("a.pdf", b"%PDF")]
)
def test_the_picture_comes_as_a_file(
    paired_work: Any, tmp_path: Path, name: str, opening: bytes
) -> None:
    asked(paired_work, "W1", "--out", str(tmp_path / name))
    assert (tmp_path / name).read_bytes().startswith(opening)


def test_a_picture_of_another_kind_is_refused(paired_work: Any, tmp_path: Path) -> None:
    answer = asked(paired_work, "W1", "--out", str(tmp_path / "a.gif"))
    assert "expected one of .pdf, .png, .svg" in str(answer.exception)


def test_without_a_logger_a_person_is_needed(work: Any) -> None:
    answer = asked(work, "W1")
    assert answer.return_value == 1
    assert "No logger has been in this frame" in answer.output
    assert "beside the room’s for 24 to 48 hours" in answer.output
    assert "No logger has been" in str(asked(work, "W1", "--use").exception)


def test_a_doubtful_record_needs_a_person(work: Any) -> None:
    work.place(0, None, Place.IN_FRAME)
    work.bring(work.inside(work.room(), 2.0))  # hourly readings, a half-time of two hours
    answer = asked(work, "W1")
    assert answer.return_value == 1
    assert "but the record leaves doubts" in answer.output
    assert "too far apart for a half-time of 2 h" in answer.output

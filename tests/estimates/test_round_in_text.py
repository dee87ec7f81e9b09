"""The four lists as text, and the demonstration done twice."""

from typing import Any

from service.answers.rounds import WIDTH, museum_round, round_text
from service.intake.demo import Delivery, build, deliveries, sample_folder
from service.intake.receipts import Outcome
from service.storage import audit


def test_each_work_stands_once_under_its_list_with_its_room(small: Any) -> None:
    small.bring("n1", 0, 35)
    for work_id, facts in {"W-1": {}, "W-2": {"frame": "F"}, "W-3": {"room": "south"}}.items():
        small.hang(work_id, **facts)
    small.hang("W-4", to_utc=small.day(20))
    lines = list(round_text(museum_round(small.museum), small.museum.zone))
    text = "\n".join(lines)
    assert lines[0] == "As of 8 February 2026, 23:00"
    assert max(map(len, text.splitlines())) <= WIDTH
    rooms = ("North gallery", "North gallery", "South gallery", "not hung")
    for work_id, room in zip(("W-1", "W-2", "W-3", "W-4"), rooms, strict=True):
        assert text.count(f"  {work_id}  Work {work_id} ({room}): ") == 1
    assert "South gallery: There are no readings of this room yet." in text
    assert "CANNOT TELL (2)" in text
    assert text.index("WATCH (2)") < text.index("W-1  ") < text.index("CANNOT TELL")
    assert text.index("CANNOT TELL") < text.index("W-3  ")
    assert text.index("CANNOT TELL") < text.index("W-4  ")
    assert lines[-1].startswith("These are estimates.")


def test_a_round_without_works_says_so(small: Any) -> None:
    small.bring("n1", 0, 3)
    lines = list(round_text(museum_round(small.museum), "UTC"))
    assert "No prints hang here." in lines
    assert "CANNOT TELL" not in "\n".join(lines)


def test_the_demonstration_twice_changes_nothing(small: Any, tmp_path: Any) -> None:
    folder = tmp_path / "sample"
    (folder / "exports").mkdir(parents=True)
    source = sample_folder()
    (folder / "register").symlink_to(source / "register")
    wanted = {"north-1_2026-W12.csv", "court_2026-W12.csv"}
    rows = (source / "deliveries.csv").read_text(encoding="utf-8").splitlines()
    kept = [rows[0], *(row for row in rows if any(name in row for name in wanted))]
    (folder / "deliveries.csv").write_text("\n".join(kept) + "\n", encoding="utf-8")
    for name in wanted:
        (folder / "exports" / name).symlink_to(source / "exports" / name)
    first = list(build(small.stores, folder))
    version = audit.version(small.stores.register)
    again = list(build(small.stores, folder))
    assert audit.version(small.stores.register) == version
    assert {r.outcome for r in again} == {Outcome.ALREADY_THERE}
    assert [r.sensors for r in again] == [r.sensors for r in first]


def test_a_file_of_several_sensors_is_one_delivery() -> None:
    found = {delivery.file: delivery for delivery in deliveries(sample_folder())}
    several = found["court_2026-W12.csv"]
    assert isinstance(several, Delivery)
    assert sorted(several.sensors.values()) == ["court-1", "court-2", "court-3"]

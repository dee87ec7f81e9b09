"""A frame that conditions its own air: no number from the room's air, and why (E, section 11)."""

from datetime import timedelta
from pathlib import Path
from typing import Any

from analysis.records.work_records import Framing
from analysis.results import Listing
from analysis.works import FrameBuild
from dashboards.pages.record_facts import mount_record
from dashboards.text.judgement_text import mend, reason
from dashboards.text.refusal_text import refusal_words
from service.answers.museum import Museum
from service.estimates.half_times import CONDITIONED, half_time_of_frame
from service.register.register_files import load_register, write_register
from service.settings import Settings
from service.storage.records import put_record
from service.storage.works import work_at, work_record


def condition(work: Any, conditioned: bool, at: float = -100) -> None:
    framing = Framing("W1", FrameBuild.D, work.day(at), conditioned=conditioned)
    put_record(work.stores.register, framing)


def test_nothing_is_told_of_a_conditioned_frame(work: Any) -> None:
    museum = Museum(work.stores, Settings(draws=60))
    before = museum.work_over("W1", 1)
    assert before is not None
    assert before.judgement.listing is not Listing.CANNOT_TELL
    condition(work, True)
    after = museum.work_over("W1", 1)
    assert after is not None
    assert after.judgement.listing is Listing.CANNOT_TELL
    assert reason(after.judgement, "UTC") == f"Cannot tell: {refusal_words('conditioned')[0]}."
    assert "leave a logger inside" in mend(after.judgement).lower()


def test_no_half_time_is_offered_for_it(paired_work: Any) -> None:
    condition(paired_work, True)
    found = half_time_of_frame(paired_work.stores, "W1", paired_work.now)
    assert found.why_not == (CONDITIONED,)
    assert found.to_use is None


def test_taken_out_again_the_frame_is_judged(work: Any) -> None:
    condition(work, True)
    condition(work, False, at=20)
    now = work_at(work.stores.register, "W1", work.now)
    then = work_at(work.stores.register, "W1", work.now - timedelta(days=50))
    assert (then.conditioned, now.conditioned) == (True, False)
    found = Museum(work.stores, Settings(draws=60)).work_over("W1", 1)
    assert found is not None
    assert found.judgement.listing is not Listing.CANNOT_TELL


def test_it_stands_in_the_record_and_in_the_files(work: Any, tmp_path: Path) -> None:
    condition(work, True)
    held = work_at(work.stores.register, "W1", work.now)
    words = [fact.words for fact in mount_record(held, "UTC")]
    assert "desiccant, gel or a unit that conditions the air" in words
    write_register(work.stores, tmp_path / "files")
    text = (tmp_path / "files" / "frames.csv").read_text(encoding="utf-8")
    assert ",yes," in text
    (tmp_path / "files" / "frames.csv").write_text(text.replace(",yes,", ",no,"), encoding="utf-8")
    load_register(work.stores, tmp_path / "files")
    assert not work_record(work.stores.register, "W1").framings[0].conditioned

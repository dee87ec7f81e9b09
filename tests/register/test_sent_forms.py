"""What people type into a form: numbers with points and commas, days and times of the house."""

from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, strategies as st

from analysis.records import BY_FILE, Field, Kind, Span
from analysis.records.cells import CellError, text_of, value_of
from dashboards.forms.form import CLOCK, HIGH, LOW, choices_of, hint
from service.records.sent_forms import read_form, texts

ZONE = "Europe/Dublin"
WHEN = (Field(name="mounted_utc", label="Mounted on", kind=Kind.WHEN),)
NUMBER = Field(name="value", label="Value", kind=Kind.NUMBER)
RH = (BY_FILE["mounts.csv"].fields["mounted_rh_pct"],)


def number(text: str) -> float:
    return float(value_of(NUMBER, text, mark="either"))


@given(st.floats(-1e6, 1e6, allow_nan=False, allow_subnormal=False))
def test_a_number_comes_back_whatever_mark_it_was_written_with(value: float) -> None:
    text = text_of(value)
    assert number(text) == value
    whole, _, rest = text.partition(".")
    if rest and not (len(rest) == 3 and len(whole.lstrip("-")) <= 3 and whole.lstrip("-") != "0"):
        assert number(text.replace(".", ",")) == value


@given(st.text(max_size=12))
def test_any_text_is_a_number_or_a_sentence(text: str) -> None:
    try:
        assert isinstance(number(text), float)
    except CellError as problem:
        assert str(problem)


@pytest.mark.parametrize("text", ["1,500", "-12,345", "1.500,5", "1 500", "1'500", "0x10", "1_0"])
def test_what_may_mean_two_numbers_is_none(text: str) -> None:
    with pytest.raises(CellError):
        number(text)


@given(
    st.dates(date(1950, 1, 1), date(2090, 1, 1)),
    st.times().map(lambda t: t.replace(second=0, microsecond=0)),
)
def test_a_day_and_its_time_are_read_in_the_zone_of_the_house(day: date, clock: time) -> None:
    sent = {"mounted_utc": day.isoformat(), "mounted_utc" + CLOCK: f"{clock:%H:%M}"}
    found = read_form(WHEN, sent, ZONE)
    local = datetime.combine(day, clock)
    if found.problems:
        # put forward over: the clocks never showed it
        instant = local.replace(tzinfo=ZoneInfo(ZONE)).astimezone(UTC)
        assert instant.astimezone(ZoneInfo(ZONE)).replace(tzinfo=None) != local
        return
    instant = found.values["mounted_utc"]
    assert instant.astimezone(ZoneInfo(ZONE)).replace(tzinfo=None) == local
    shown = texts(WHEN, found.values, ZONE)
    assert shown["mounted_utc"] == sent["mounted_utc"]
    assert shown["mounted_utc" + CLOCK] in (f"{clock:%H:%M}", "")


def test_an_untouched_field_keeps_its_seconds_and_its_last_digit() -> None:
    before = {"mounted_utc": datetime(2024, 11, 5, 10, 30, 17, tzinfo=UTC)}
    sent = texts(WHEN, before, ZONE)
    assert read_form(WHEN, sent, ZONE, before).values == before
    note = (Field(name="note", label="Note", kind=Kind.NOTE),)
    lines = {"note": "first line\nsecond line "}
    sent = {"note": "first line\r\nsecond line"}
    assert read_form(note, sent, ZONE, lines).values == lines
    spacer = (BY_FILE["frames.csv"].fields["spacer_mm"],)
    third = {"spacer_mm": 10 / 3}
    assert read_form(spacer, texts(spacer, third, ZONE), ZONE, third).values == third


def test_a_range_stands_beside_the_number_and_never_both() -> None:
    both = {"mounted_rh_pct" + LOW: "40", "mounted_rh_pct" + HIGH: "55,5"}
    found = read_form(RH, both, ZONE)
    assert found.values == {"mounted_rh_pct": Span(40.0, 55.5)}
    assert texts(RH, found.values, ZONE)["mounted_rh_pct" + HIGH] == "55.5"
    for wrong in (both | {"mounted_rh_pct": "48"}, {"mounted_rh_pct" + LOW: "40"}):
        assert read_form(RH, wrong, ZONE).problems
    turned = {"mounted_rh_pct" + LOW: "55", "mounted_rh_pct" + HIGH: "40"}
    assert "from 1 to 99" in read_form(RH, turned, ZONE).problems["mounted_rh_pct"]


@pytest.mark.parametrize("text", ["-5", "nan", "1e308", "inf", "1e-320", "160 cm", "0x1F", "४"])
def test_a_humidity_that_cannot_be_is_a_sentence(text: str) -> None:
    assert read_form(RH, {"mounted_rh_pct": text}, ZONE).problems or text == "४"


@pytest.mark.parametrize("file", BY_FILE)
def test_every_field_can_be_left_open_or_says_that_it_is_needed(file: str) -> None:
    for one in BY_FILE[file].asked():
        if one.kind in (Kind.CHOICE, Kind.YES_NO):
            assert one.needed or one.may_be_unknown or choices_of(one), one.name
        if one.kind is Kind.NUMBER:
            assert one.example or one.without, one.name
            assert one.without or one.needed or not one.may_be_unknown, one.name
        assert hint(one) or choices_of(one) or one.of or one.name in ("note", "to_utc"), one.name

"""What people type into a form: numbers with points and commas, days and times of the house."""

from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboards.forms.form import CLOCK, Field, Kind, hint
from dashboards.forms.record_fields import FRAMING, HANGING, MOUNTING, PRINT
from dashboards.forms.room_fields import BAND, PLACEMENT, PLACES
from service.register.sent_forms import number, read_form, texts
from service.storage.loggers import Place
from service.storage.register_cells import CellError, text_of

ZONE = "Europe/Dublin"
WHEN = (Field("mounted_utc", "Mounted on", Kind.WHEN),)


@given(st.floats(-1e6, 1e6, allow_nan=False, allow_subnormal=False))
def test_a_number_comes_back_whatever_mark_it_was_written_with(value: float) -> None:
    text = text_of(value)
    assert number("overrides.csv", "value", text) == value
    whole, _, rest = text.partition(".")
    if rest and not (len(rest) == 3 and len(whole.lstrip("-")) <= 3 and whole.lstrip("-") != "0"):
        assert number("overrides.csv", "value", text.replace(".", ",")) == value


@given(st.text(max_size=12))
def test_any_text_is_a_number_or_a_sentence(text: str) -> None:
    try:
        assert isinstance(number("overrides.csv", "value", text), float)
    except CellError as problem:
        assert str(problem)


@pytest.mark.parametrize("text", ["1,500", "-12,345", "1.500,5", "1 500", "1'500", "0x10", "1_0"])
def test_what_may_mean_two_numbers_is_none(text: str) -> None:
    with pytest.raises(CellError):
        number("overrides.csv", "value", text)


@given(
    st.dates(date(1950, 1, 1), date(2090, 1, 1)),
    st.times().map(lambda t: t.replace(second=0, microsecond=0)),
)
def test_a_day_and_its_time_are_read_in_the_zone_of_the_house(day: date, clock: time) -> None:
    sent = {"mounted_utc": day.isoformat(), "mounted_utc" + CLOCK: f"{clock:%H:%M}"}
    found = read_form("mounts.csv", WHEN, sent, ZONE)
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
    assert read_form("mounts.csv", WHEN, sent, ZONE, before).values == before
    note = (Field("note", "Note"),)
    lines = {"note": "first line\nsecond line "}
    assert (
        read_form("mounts.csv", note, {"note": "first linesecond line"}, ZONE, lines).values
        == lines
    )
    spacer = (Field("spacer_mm", "Spacer", Kind.NUMBER, "mm"),)
    third = {"spacer_mm": 10 / 3}
    assert read_form("frames.csv", spacer, texts(spacer, third, ZONE), ZONE, third).values == third


def test_the_places_of_a_logger_are_those_of_the_register() -> None:
    assert [value for value, _ in PLACES] == [str(place) for place in Place]


@pytest.mark.parametrize("fields", [PRINT, MOUNTING, FRAMING, HANGING, PLACEMENT, BAND])
def test_every_field_can_be_left_open_or_says_that_it_is_needed(fields: tuple[Field, ...]) -> None:
    for one in fields:
        empty = one.kind is not Kind.CHOICE or not one.choices or one.choices[0][0] in ("", "no")
        assert empty or one.required, one.name
        if one.kind is Kind.NUMBER:
            assert one.example, one.name
            assert one.without or one.required, one.name
        assert hint(one) or one.choices or one.name == "note", one.name

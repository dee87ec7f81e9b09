"""A site's own bands: dated, owned, reviewed."""

from datetime import date

import pytest

from analysis.errors import OutOfRangeError
from analysis.limits.published_limits import Definition, band_in_force, band_limit
from analysis.results import Band
from dashboards.text.limit_text import range_limit_words


def test_a_band_becomes_a_limit_with_its_owner_and_dates() -> None:
    band = Band("North", 45.0, 55.0, "A. Keeper", "2030-01-01", "2031-01-01", 18.0, 22.0)
    limit = band_limit(band, short_rh_pct=8.0, definition=Definition.DAYSPAN)
    assert (limit.owner, limit.since, limit.review) == ("A. Keeper", "2030-01-01", "2031-01-01")
    assert range_limit_words(limit.variables["temp_c"]) == "18 to 22 °C, ends included"
    assert limit.variables["rh_pct"].short_definition is Definition.DAYSPAN
    assert limit.variables["temp_c"].short_limit is None
    assert limit.verified


def test_a_band_without_temperatures_limits_humidity_alone() -> None:
    assert list(band_limit(Band("North", 45.0, 55.0)).variables) == ["rh_pct"]


@pytest.mark.parametrize(
    ("band", "message"),
    [
        (Band("North", 55.0, 45.0), "found 55 to 45 %RH, expected a lower end below"),
        (Band("North", 45.0, 155.0), "both between 0 and 100 %RH"),
        (Band("North", 45.0, 55.0, low_temp_c=22.0, high_temp_c=18.0), "found 22 to 18 °C"),
    ],
)
def test_an_impossible_band_is_refused(band: Band, message: str) -> None:
    with pytest.raises(OutOfRangeError, match=message):
        band_limit(band)


def test_the_band_in_force_is_the_latest_that_has_begun() -> None:
    bands = [Band("b", 45.0, 55.0, since="2030-06-01"), Band("a", 40.0, 60.0, since="2030-01-01")]
    assert band_in_force(bands, date(2029, 12, 31)) is None
    assert band_in_force(bands, date(2030, 5, 31)) == bands[1]
    assert band_in_force(bands, date(2030, 6, 1)) == bands[0]


def test_a_date_that_cannot_be_read_is_refused() -> None:
    with pytest.raises(OutOfRangeError, match="since: found '1 June', expected a date such as"):
        band_in_force([Band("b", 45.0, 55.0, since="1 June")], date(2030, 1, 1))

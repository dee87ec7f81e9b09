"""The invented week, made once for all pages."""

import pytest
from fixtures.invented_week import room_week

from analysis.results import RoomWeek


@pytest.fixture(scope="session")
def week() -> RoomWeek:
    return room_week()

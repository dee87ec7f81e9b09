"""Shared fixtures."""

from pathlib import Path

import pytest

SHARED_DATA = Path(__file__).resolve().parents[2] / "shared" / "data"


@pytest.fixture(scope="session")
def shared_data() -> Path:
    """Folder with third parties' measurements; the test is skipped where it is absent."""
    if not SHARED_DATA.is_dir():
        pytest.skip("the folder shared/data with third parties' measurements is not present")
    return SHARED_DATA

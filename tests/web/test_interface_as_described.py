"""The JSON interface against its own description: nothing breaks it, whatever is asked.

Schemathesis makes requests from the OpenAPI document and holds every answer against it. It is
imported where it is used, for that takes long and the other files can do without.
"""

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest
from fixtures.serving import served
from hypothesis import HealthCheck, Phase, given, settings

LONG_S = 300.0  # a slow machine is no fault of the program
KNOWN = {"work_id": "2018-02", "room_id": "north", "iso_week": "2026-W12"}
ADDRESSES = (
    "/api/rooms", "/api/rooms/{room_id}/weeks/{iso_week}", "/api/rooms/{room_id}/days",
    "/api/rooms/{room_id}/record", "/api/round", "/api/works/{work_id}",
    "/api/works/{work_id}/record", "/api/works/{work_id}/half-time", "/api/works/{work_id}/why",
    "/api/works/{work_id}/journeys", "/api/notices", "/api/report",
)  # fmt: skip


@pytest.fixture(scope="module")
def client(small_museum: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[httpx.Client]:
    """A copy of the small museum, since uploads are made too."""
    folder = Path(shutil.copytree(small_museum, tmp_path_factory.mktemp("described") / "museum"))
    with served(folder) as client, client:
        yield client


@pytest.fixture(scope="module")
def described(client: httpx.Client) -> Any:
    import schemathesis

    return schemathesis.openapi.from_url(f"{client.base_url}/api/openapi.json")


@pytest.fixture(scope="module")
def held_to() -> list[Any]:
    """What every answer must be."""
    from schemathesis.checks import not_a_server_error
    from schemathesis.specs.openapi import checks

    return [
        not_a_server_error,
        checks.status_code_conformance,
        checks.content_type_conformance,
        checks.response_headers_conformance,
        checks.response_schema_conformance,
    ]


READ = [("GET", one) for one in ADDRESSES]


@pytest.mark.parametrize(
    ("method", "address"), [*READ, ("POST", "/api/uploads"), ("POST", "/api/readings")]
)
def test_no_request_breaks_what_is_described(
    described: Any, held_to: list[Any], method: str, address: str
) -> None:
    @settings(
        max_examples=12,
        deadline=None,
        derandomize=True,
        database=None,
        phases=[Phase.explicit, Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(case=described[address][method].as_strategy())
    def asked(case: Any) -> None:
        case.call_and_validate(checks=held_to, timeout=LONG_S)

    asked()


@pytest.mark.parametrize("address", ADDRESSES)
def test_what_is_there_is_answered_as_described(
    described: Any, held_to: list[Any], address: str
) -> None:
    wanted = {name: value for name, value in KNOWN.items() if f"{{{name}}}" in address}
    case = described[address]["GET"].Case(path_parameters=wanted)
    answer = case.call_and_validate(checks=held_to, timeout=LONG_S)
    no_forecast = address.endswith("/days")
    assert answer.status_code == (422 if no_forecast else 200)


def test_every_address_is_asked(described: Any) -> None:
    every = [(one.ok().method.upper(), one.ok().path) for one in described.get_all_operations()]
    assert sorted(every) == sorted([*READ, ("POST", "/api/uploads"), ("POST", "/api/readings")])

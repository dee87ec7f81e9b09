"""What whoever runs the service sees: alive, ready, figures, a number for every request, a log."""

import json
import logging
import re
from collections.abc import Callable
from pathlib import Path

import httpx
import pytest
from prometheus_client.parser import text_string_to_metric_families

from service.log_lines import JsonLines, numbered
from service.settings import Settings
from service.storage.stores import Stores
from service.storage.tokens import Scope, make_program_token
from service.web.observed import not_ready

NUMBER = re.compile(r"[0-9a-f]{32}-\d+")


def test_it_says_that_it_is_alive_and_ready(web: httpx.Client) -> None:
    assert web.get("/health").text == "alive\n"
    assert (web.get("/ready").status_code, web.get("/ready").text) == (200, "ready\n")


def test_what_is_not_ready_is_named(tmp_path: Path) -> None:
    with Stores.open(Settings(data_dir=tmp_path / "museum")) as stores:
        register, folder, objects = stores.register, stores.folder, stores.objects
        assert not_ready(register, folder, objects, jobs_alive=True) == []
        assert not_ready(register, folder, objects, jobs_alive=False) == ["files are not taken in"]
        assert not_ready(register, folder / "gone", objects, jobs_alive=True) == [
            "the data folder cannot be written"
        ]
        register.refuses_to_write = ("a stopped clock", "start it")
        assert not_ready(register, folder, objects, jobs_alive=True) == [
            "the register cannot be written"
        ]
        assert not [one for one in folder.iterdir() if one.name.startswith(".ready")]


def test_every_request_has_a_number(web: httpx.Client) -> None:
    first, second = web.get("/health"), web.get("/no-such-page")
    assert NUMBER.fullmatch(first.headers["x-request-id"])
    assert first.headers["x-request-id"] != second.headers["x-request-id"]
    given = web.get("/health", headers={"X-Request-ID": "proxy-4711"})
    assert given.headers["x-request-id"] == "proxy-4711"
    forged = web.get("/health", headers={"X-Request-ID": 'a"b{c}'})
    assert NUMBER.fullmatch(forged.headers["x-request-id"])


def test_figures_are_read_by_the_library_and_hold_no_secret(web: httpx.Client) -> None:
    web.get("/welcome/a-secret-link")
    web.get("/works/2018-02/record")
    answer = web.get("/metrics")
    assert "a-secret-link" not in answer.text and "2018-02" not in answer.text
    found = {one.name: one for one in text_string_to_metric_families(answer.text)}
    asked = {one.labels["address"] for one in found["stilltaut_requests"].samples}
    assert {"/welcome/{link}", "/works/{work_id:name}/record"} <= asked
    assert [one.value for one in found["stilltaut_letters_waiting"].samples] == [0.0]
    states = {one.labels["state"] for one in found["stilltaut_jobs"].samples}
    assert states == {"preview", "waiting", "running", "failed"}


def test_figures_are_for_who_may_look(tmp_path: Path, serve: Callable[..., httpx.Client]) -> None:
    with Stores.open(Settings(data_dir=tmp_path)) as stores:
        _, look = make_program_token(stores.register, "figures", Scope.LOOK, by="a test")
    client = serve(tmp_path, access="sign-in")
    assert client.get("/metrics").headers["location"].startswith("/sign-in")
    wrong = client.get(
        "/metrics", headers={"Authorization": "Bearer x", "Accept": "application/json"}
    )
    assert wrong.status_code == 401
    right = client.get("/metrics", headers={"Authorization": f"Bearer {look}"})
    assert right.status_code == 200
    assert client.get("/ready").status_code == 200


def test_a_line_of_the_log_is_one_object_with_its_request() -> None:
    record = logging.LogRecord("service.requests", logging.INFO, "", 0, "%s\n%s", ("a", "b"), None)
    record.facts = {"status": 200}
    with numbered("n-1"):
        line = JsonLines().format(record)
    assert "\n" not in line
    said = json.loads(line)
    assert (said["request"], said["status"], said["message"]) == ("n-1", 200, "a\nb")
    assert "request" not in json.loads(JsonLines().format(record))


@pytest.mark.parametrize("path", ["/welcome/x", "/works/x", "/rooms/north"])
def test_the_log_names_the_kind_of_an_address(
    web: httpx.Client, caplog: pytest.LogCaptureFixture, path: str
) -> None:
    with caplog.at_level(logging.INFO, "service.requests"):
        web.get(path)
    lines = [one.getMessage() for one in caplog.records if one.name == "service.requests"]
    assert any("{" in line for line in lines)
    assert not any(f"{path} " in line for line in lines)

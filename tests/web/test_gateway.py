"""Gateways: batches under a token, stored for good when answered, and what is not let in."""

import sqlite3
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path

import httpx
import pandas as pd
import pytest

from service.intake.gateway import BusyError, Gate
from service.settings import Settings
from service.storage.register import now_utc
from service.storage.stores import Stores
from service.storage.tokens import Token, make_token, revoke_token, token_of, tokens

Client = httpx.Client


def rows(first: str, many: int, rh: float = 47.0) -> list[dict[str, object]]:
    """Return readings as a gateway sends them."""
    times = pd.date_range(first, periods=many, freq="5min", tz="UTC")
    return [
        {"time": t.isoformat(), "temp_c": 20 + n % 5 / 10, "rh_pct": rh + n % 7 / 10}
        for n, t in enumerate(times)
    ]


@pytest.fixture
def own(own_museum: Path, serve: Callable[..., Client]) -> Client:
    return serve(own_museum, as_if="2026-04-10T12:00+00:00")


@pytest.fixture
def token(own_museum: Path) -> str:
    with Stores.open(Settings(data_dir=own_museum)) as stores:
        return make_token(stores.register, "spare-1", by="R. Keeper", per_hour=50)[1]


def bearer(token: str) -> dict[str, str]:
    return {"Authorization": f"Bearer {token}"}


def readings(folder: Path, logger: str) -> pd.DataFrame:
    with Stores.open(Settings(data_dir=folder)) as stores:
        return stores.readings.load(logger)


def test_what_is_answered_is_stored_and_the_same_again_changes_nothing(
    own: Client, own_museum: Path, token: str
) -> None:
    batch = {"readings": rows("2026-03-24 10:00", 12)}
    first = own.post("/api/readings", json=batch, headers=bearer(token))
    assert first.status_code == 200
    assert first.json()["added"] == 12
    assert len(readings(own_museum, "spare-1")) == 12
    again = own.post("/api/readings", json=batch, headers=bearer(token)).json()
    assert (again["same"], again["upload"]) == (12, first.json()["upload"])
    overlapping = {"readings": rows("2026-03-24 10:00", 13)}
    third = own.post("/api/readings", json=overlapping, headers=bearer(token)).json()
    assert (third["added"], third["same"]) == (1, 12)
    assert len(readings(own_museum, "spare-1")) == 13


def test_csv_is_read_like_any_file(own: Client, own_museum: Path, token: str) -> None:
    text = "time_utc,temp_c,rh_pct\n2026-03-24T10:00:00Z,20.5,47.1\n"
    headers = bearer(token) | {"Content-Type": "text/csv; charset=utf-8"}
    answer = own.post("/api/readings", content=text.encode(), headers=headers)
    assert answer.json()["added"] == 1
    assert readings(own_museum, "spare-1")["rh_pct"].tolist() == [47.1]


def test_another_value_for_a_time_is_told_and_the_first_stays(
    own: Client, own_museum: Path, token: str
) -> None:
    own.post("/api/readings", json=rows("2026-03-24 10:00", 1, 47.0), headers=bearer(token))
    other = own.post("/api/readings", json=rows("2026-03-24 10:00", 1, 55.0), headers=bearer(token))
    assert other.json()["conflicts"] == 1
    assert readings(own_museum, "spare-1")["rh_pct"].tolist() == [47.0]


@pytest.mark.parametrize("header", ["", "Bearer", "Bearer stt_wrong", "Basic abc"])
def test_nothing_is_let_in_without_a_token(own: Client, own_museum: Path, header: str) -> None:
    sent = {"Authorization": header} if header else {}
    answer = own.post("/api/readings", json=rows("2026-03-24 10:00", 3), headers=sent)
    assert answer.status_code == 401
    assert answer.headers["www-authenticate"] == "Bearer"
    assert readings(own_museum, "spare-1").empty


def test_a_revoked_token_counts_no_more(own: Client, own_museum: Path, token: str) -> None:
    with Stores.open(Settings(data_dir=own_museum)) as stores:
        number = tokens(stores.register)[0].number
        assert revoke_token(stores.register, number, by="R. Keeper").revoked_utc is not None
    answer = own.post("/api/readings", json=rows("2026-03-24 10:00", 3), headers=bearer(token))
    assert answer.status_code == 401


def test_a_token_in_the_open_is_refused(own: Client, token: str) -> None:
    from_afar = bearer(token) | {"X-Forwarded-For": "192.0.2.7"}
    answer = own.post("/api/readings", json=rows("2026-03-24 10:00", 3), headers=from_afar)
    assert answer.status_code == 403
    assert own.post("/gateways", data={"logger": "spare-1", "by": "x"}, headers={
        "X-Forwarded-For": "192.0.2.7"}).status_code == 403  # fmt: skip


@pytest.mark.parametrize(
    ("content", "kind", "status"),
    [
        (b"[]", "application/json", 422),
        (b"{not json", "application/json", 422),
        (b"\0" * 500, "text/csv", 422),
        (b"a,b\n1,2\n", "text/csv", 422),
        (b"9" * (4 * 2**20 + 1), "text/csv", 413),
        (b"x", "image/png", 415),
        (b'[{"time":"2126-03-24T10:00:00Z","temp_c":20.5,"rh_pct":47.1}]', "application/json", 422),
        (b'[{"time":"2026-03-24T10:00:00Z","temp_c":68.5,"rh_pct":47.1}]', "application/json", 422),
    ],
)
def test_a_bad_batch_is_told_and_stores_nothing(
    own: Client, own_museum: Path, token: str, content: bytes, kind: str, status: int
) -> None:
    headers = bearer(token) | {"Content-Type": kind}
    answer = own.post("/api/readings", content=content, headers=headers)
    assert answer.status_code == status
    assert readings(own_museum, "spare-1").empty


def test_a_token_is_shown_once_and_kept_as_a_hash(own: Client, own_museum: Path) -> None:
    made = own.post("/gateways", data={"logger": "spare-1", "by": "R. Keeper"})
    text = made.text.split("<code>stt_")[1].split("</code>")[0]
    assert made.headers["cache-control"] == "no-store"
    assert text not in own.get("/gateways").text
    with Stores.open(Settings(data_dir=own_museum)) as stores:
        found = token_of(stores.register, f"stt_{text}")
        assert found is not None
        assert found.logger == "spare-1"
    with sqlite3.connect(own_museum / "register.db") as register:
        assert text not in "\n".join(register.iterdump())
    own.post(f"/gateways/{found.number}/revoke", data={"by": "R. Keeper"})
    assert "revoked" in own.get("/gateways").text


def test_one_gate_lets_in_so_many_at_once(own_museum: Path) -> None:
    with Stores.open(Settings(data_dir=own_museum)) as stores:
        token, _ = make_token(stores.register, "spare-1", by="x", per_hour=5)
        gate = Gate(at_once=1)
        with gate.entered(stores.register, token):
            with pytest.raises(BusyError, match="in hand") as busy:
                enter(gate, stores, token)
            assert not busy.value.too_many
        enter(gate, stores, token)


def test_all_gates_together_let_in_so_many_an_hour(own_museum: Path) -> None:
    start = now_utc()
    with Stores.open(Settings(data_dir=own_museum)) as stores:
        token, _ = make_token(stores.register, "spare-1", by="x", per_hour=2)
        other, _ = make_token(stores.register, "spare-1", by="x", per_hour=2)
        enter(Gate(), stores, token, start)
        enter(Gate(), stores, token, start + timedelta(seconds=1800))
    with Stores.open(Settings(data_dir=own_museum)) as stores:  # as after a start anew
        with pytest.raises(BusyError, match="within an hour") as busy:
            enter(Gate(), stores, token, start + timedelta(seconds=3000))
        assert busy.value.after_s == pytest.approx(600.0)
        enter(Gate(), stores, other, start + timedelta(seconds=3000))
        enter(Gate(), stores, token, start + timedelta(seconds=3600.5))
        assert tokens(stores.register)[1].used_utc == start + timedelta(seconds=3600.5)


def enter(gate: Gate, stores: Stores, token: Token, now: datetime | None = None) -> None:
    with gate.entered(stores.register, token, now):
        pass


def test_too_many_batches_are_asked_to_wait(own: Client, own_museum: Path) -> None:
    with Stores.open(Settings(data_dir=own_museum)) as stores:
        text = make_token(stores.register, "spare-1", by="x", per_hour=1)[1]
    own.post("/api/readings", json=rows("2026-03-24 10:00", 1), headers=bearer(text))
    answer = own.post("/api/readings", json=rows("2026-03-24 11:00", 1), headers=bearer(text))
    assert answer.status_code == 429
    assert int(answer.headers["retry-after"]) > 3000

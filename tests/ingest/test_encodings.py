"""One stray byte does not change what the rest of a file says. Samples invented here."""

import pytest

from service.ingest.files.decode import decode
from service.ingest.read import read_bytes

ROWS = "".join(f"2024-01-13 {h:02d}:00;{68 + h / 10};45,{h}\n".replace(".", ",") for h in range(24))
TABLE = "time;Temperatur °F;Feuchte %\n" + ROWS


def test_a_stray_byte_in_a_note_leaves_the_unit_what_it_is() -> None:
    data = "Größe\n".encode() + b"Caf\xe9, 20 \xb0C\n" + TABLE.encode()
    found = read_bytes("mixed.csv", data, zone="UTC")
    assert found.sensors[""]["temp_c"].iloc[0] == pytest.approx(20.0)
    assert found.understanding.channels[0].unit == "°F"
    assert found.understanding.encoding == "utf-8 and cp1252"
    assert "1 line holds bytes that are not UTF-8" in found.understanding.notes[0]
    assert "read as cp1252: 2." in found.understanding.notes[0]


def test_a_stray_byte_in_the_heading_itself_is_read_and_noted() -> None:
    data = TABLE.encode().replace("°".encode(), b"\xb0", 1).replace(b"Feuchte", "Äußere".encode())
    text = decode("mixed.csv", data)
    assert text.lines(0, 60)[0] == "time;Temperatur °F;Äußere %"
    assert text.notes


@pytest.mark.parametrize("encoding", ["cp1252", "utf-8", "utf-8-sig", "utf-16-le", "utf-16-be"])
def test_whole_files_are_what_they_were(encoding: str) -> None:
    text = decode("whole.csv", TABLE.encode(encoding))
    assert text.text.decode() == TABLE
    assert text.encoding == encoding
    assert not text.notes


def test_a_mark_of_utf_8_above_other_bytes_is_noted() -> None:
    data = b"\xef\xbb\xbf" + TABLE.encode().replace(b"time", b"t\xefme")
    assert decode("mixed.csv", data).encoding == "utf-8 and cp1252"

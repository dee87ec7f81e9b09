"""A register whose file is damaged ends every command in one sentence, and nothing is written."""

from pathlib import Path

import pytest

from service.cli import main
from service.intake.demo import sample_folder

COMMANDS = (
    ["round"], ["notices"], ["check"], ["measure"], ["classes"], ["account"], ["token"],
    ["due"], ["week", "north"], ["why", "2018-02"], ["half-time", "2018-02"],
    ["plan", "mount", "--work", "2018-02"], ["archive", "OUT"], ["register", "REGISTER"],
    ["take-back", "1"], ["serve", "--port", "0"],
)  # fmt: skip


def damage(file: Path) -> bytes:
    """Overwrite the middle of a register, as a failing disk does."""
    data = bytearray(file.read_bytes())
    middle = len(data) // 2 // 4096 * 4096
    data[middle : middle + 8192] = b"\xa5" * 8192
    file.write_bytes(data)
    return bytes(data)


def test_every_command_says_it_in_one_sentence(
    own_museum: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
) -> None:  # fmt: skip
    monkeypatch.setenv("STILLTAUT_DATA_DIR", str(own_museum))
    monkeypatch.setenv("STILLTAUT_ACCESS", "sign-in")  # so that serving looks into the register
    damaged = damage(own_museum / "register.db")
    named = {"OUT": str(tmp_path / "out"), "REGISTER": str(sample_folder() / "register")}
    wrong = []
    for command in COMMANDS:
        asked = [named.get(word, word) for word in command]
        with pytest.raises(SystemExit) as ended:
            main(asked)
        said = capsys.readouterr()
        one = said.err.strip().count("\n") == 0 and "damaged register" in said.err
        if ended.value.code != 2 or not one or said.out:
            wrong.append((command, ended.value.code, said.out[:200], said.err[:400]))
    assert wrong == []
    assert (own_museum / "register.db").read_bytes() == damaged

"""What the commands say of themselves in German: help, and what is wrong with a call."""

import re
import shutil
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import click
import pytest
from click.testing import CliRunner
from fixtures.languages import english_in

from dashboards.text.messages import in_the_way_of
from service.cli import COMMANDS, main, stilltaut
from service.command_words import way_of_call
from service.settings import Settings
from service.storage.places import sites
from service.storage.records import put_record
from service.storage.stores import Stores

Said = Callable[[str, dict[str, str]], str]
GERMAN = {"LC_ALL": "de_DE.UTF-8"}
EXPORTS = sorted((Path(__file__).parents[2] / "sample_logs" / "exports").glob("*.*"))
LANGUAGES = ("LANGUAGE", "LC_ALL", "LC_MESSAGES", "LANG")
WRONG = {
    "none": "Es gibt keinen Befehl 'none'.",
    "plan moun": "Es gibt keinen Befehl 'moun'. War 'mount' gemeint?",
    "round --rom x": "Es gibt keine Option '--rom'. War '--room' gemeint?",
    "why": "Die Angabe 'WORK' fehlt.",
    "plan mount": "Die Option '--work' fehlt.",
    "round --room": "Die Option '--room' braucht einen Wert.",
    "round --json=1": "Die Option '--json' nimmt keinen Wert.",
    "round north": "Überzählige Angabe (north)",
    "measure --first many": "Ungültiger Wert für '--first': 'many' ist keine ganze Zahl.",
    "plan seal --target x": "Ungültiger Wert für '--target': 'x' ist keine Zahl.",
    "serve --workers 99": "Ungültiger Wert für '--workers': 99 liegt nicht im Bereich 1<=x<=32.",
    "report --for all": "Ungültiger Wert für '--for': 'all' ist keines von",
    "restore none": "Ungültiger Wert für '[ARCHIVE]': den Ordner 'none' gibt es nicht.",
    "register": "Dateien oder einen Ordner nennen oder mit --empty einen Ordner zum Anfangen.",
    "read --interval soon x.csv": "'soon' ist keine Dauer; 5s, 10min oder 1h schreiben.",
}


def texts(line: bytes) -> list[str]:
    """Return the fields of a line of a file, and the line, as they might be shown."""
    text = line.decode("cp1252", errors="replace").strip()
    fields = [text, *re.split(r"[,;|\t]", text), *text.split()]
    return [one.strip().strip('"') for one in fields if len(one) > 2]


def every_call() -> Iterator[tuple[str, ...]]:
    """Yield the words of every command, with those of the commands below it."""
    context = click.Context(stilltaut)
    for name in COMMANDS:
        yield (name,)
        command = stilltaut.get_command(context, name)
        yield from ((name, inner) for inner in getattr(command, "commands", {}))


@pytest.fixture
def said(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> Said:
    """What a call says where no house is known, in the language of an environment."""

    def call(words: str, environment: dict[str, str]) -> str:
        for name in LANGUAGES:
            monkeypatch.delenv(name, raising=False)
        for name, value in environment.items():
            monkeypatch.setenv(name, value)
        monkeypatch.chdir(tmp_path)
        monkeypatch.setenv("COLUMNS", "100")
        with pytest.raises(SystemExit):
            main(words.split())
        told = capsys.readouterr()
        return " ".join((told.out + told.err).split())

    return call


@pytest.mark.parametrize("words", [(), *every_call()], ids=" ".join)
def test_no_english_stands_in_german_help(words: tuple[str, ...]) -> None:
    with in_the_way_of("de_DE"):
        text = CliRunner().invoke(stilltaut, [*words, "--help"], prog_name="stilltaut").output
    assert text.startswith("Aufruf: stilltaut")
    assert "Diese Hilfe zeigen und aufhören." in text
    assert english_in(text.splitlines(), ["look first / watch / leave be"]) == []


def test_german_help_says_nothing_that_english_help_says() -> None:
    """A sentence that lacks its translation would stand in both."""

    def help_of(words: tuple[str, ...], way: str) -> set[str]:
        with in_the_way_of(way):
            runner = CliRunner(env={"COLUMNS": "400"})
            lines = runner.invoke(stilltaut, [*words, "--help"]).output.splitlines()
        meant = [line.strip().partition("  ")[2] or line.strip() for line in lines]
        return {one.strip().partition("  [")[0] for one in meant if len(one.split()) > 2}

    for words in [(), *every_call()]:
        both = help_of(words, "de_DE") & help_of(words, "en_GB")
        assert not {one for one in both if not one.startswith(("-", "stilltaut"))}, words


@pytest.mark.parametrize("words", WRONG)
def test_what_is_wrong_with_a_call_is_said_in_german(words: str, said: Said) -> None:
    told = said(words, GERMAN)
    assert WRONG[words] in told
    assert "Fehler: " in told
    assert english_in([told]) == []


def test_without_a_language_the_commands_speak_english(said: Said) -> None:
    for environment in ({"LC_ALL": "C"}, {}, {"LANG": "fr_FR.UTF-8"}):
        told = said("round --rom x", environment)
        assert "Usage: stilltaut round [OPTIONS]" in told
        assert "Try 'stilltaut round -h' for help." in told
        assert "Error: No such option '--rom'. Did you mean '--room'?" in told
        assert "Show this message and exit." in said("round -h", environment)


@pytest.fixture(scope="module")
def house(small_museum: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The small museum, whose house writes in German."""
    folder = Path(shutil.copytree(small_museum, tmp_path_factory.mktemp("deutsch") / "museum"))
    with Stores.open(Settings(data_dir=folder)) as stores:
        for site in sites(stores.register):
            put_record(stores.register, replace(site, locale="de_DE"))
    return folder


def test_the_house_says_in_which_language_its_commands_speak(
    small_museum: Path, house: Path
) -> None:
    of_no_language = ["round", "--data", str(small_museum)]
    assert way_of_call(of_no_language, {"LANG": "de_DE.UTF-8"}) == "en_GB"
    assert way_of_call(["round", "--data", str(house)], {"LC_ALL": "C"}) == "de_DE"
    assert way_of_call([f"--data={house}"], {}) == "de_DE"
    assert way_of_call(["round"], {"STILLTAUT_DATA_DIR": str(house)}) == "de_DE"


@pytest.mark.parametrize("file", EXPORTS, ids=lambda path: path.name)
def test_how_a_file_is_understood_is_said_in_german(file: Path, said: Said) -> None:
    told = said(f"read {file}", GERMAN)
    assert "Messwerte" in told
    headings = [heading for line in file.read_bytes().splitlines()[:12] for heading in texts(line)]
    assert english_in([told], sorted(headings, key=len, reverse=True)) == []


@pytest.mark.parametrize("words", ["round", "measure", "notices", "check", "classes", "report"])
def test_what_commands_answer_is_in_german(words: str, house: Path, said: Said) -> None:
    told = said(f"{words} --data {house}", {})
    notices_told = words == "notices"  # what was told stays in the language it was told in
    assert notices_told or english_in([told], [str(house)]) == []
    assert "Meldungen" in told or not notices_told

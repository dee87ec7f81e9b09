"""What a reading tells, asks and refuses is told in German too, all but what stands in the file."""

import re
import warnings
from collections.abc import Iterator

import numpy as np
import pytest
from bench import damaged_bytes
from bench.written_files import written
from fixtures.languages import ENGLISH

from analysis.errors import StilltautError
from dashboards.text.error_words import error_words
from dashboards.text.messages import in_the_way_of
from service.errors import QuestionError
from service.ingest.read import FileReading, read_bytes

# What a library says of bytes that it cannot unpack stays as it says it.
OF_LIBRARIES = re.compile(r"\([^()]*(?:magic|decompress|CRC|seek|detect)[^()]*\)", re.IGNORECASE)
IN_QUOTES = re.compile(r"'[^']*'|\"[^\"]*\"|--\S+")


def told(name: str, data: bytes, zone: str | None) -> Iterator[str]:
    """Yield all that reading a file tells; what is done about it is told by each page itself."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            yield from _of(read_bytes(name, data, zone=zone))
    except QuestionError as question:
        yield from (question.found, question.expected, *(one.words for one in question.answers))
    except StilltautError as problem:
        yield from (problem.found, problem.expected)


def _of(reading: FileReading) -> Iterator[str]:
    yield from reading.understanding.notes
    for problem in reading.understanding.problems:
        yield from (problem.found, problem.expected, problem.kept)


def english(texts: Iterator[str]) -> list[str]:
    with in_the_way_of("de_DE"):
        said = {text: error_words(text) for text in texts}
    bare = {one: IN_QUOTES.sub("", OF_LIBRARIES.sub("", german)) for one, german in said.items()}
    return [said[one] for one, words in bare.items() if ENGLISH.search(words)]


@pytest.mark.parametrize("first", range(0, 60, 20))
def test_what_is_told_of_written_files(first: int) -> None:
    made = [written(41_000_000 + number) for number in range(first, first + 20)]
    assert (
        english(text for m in made for z in (m.zone, None) for text in told(m.name, m.data, z))
        == []
    )


def test_what_is_told_of_damaged_files() -> None:
    texts: list[str] = []
    for number in range(60):
        whole = damaged_bytes.base(number % 6)
        data, _ = damaged_bytes.changed(np.random.default_rng([7, 300_000 + number]), whole)
        texts += told(whole.made.name, data, whole.made.zone)
    assert english(iter(texts)) == []

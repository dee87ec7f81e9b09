"""Setting a sheet: what people wrote is never markup, letters copy as letters, fonts are ours."""

import socket
from typing import Any

import pytest
from fixtures.paper import fonts_of, pages_of
from hypothesis import example, given, settings, strategies as st

from dashboards.sheets.typesetting import Sheet, sheet_pdf, sheet_png

FACTS: dict[str, Any] = {
    "title": "Official figures: the first waffle floated off a cliff",
    "when": "North Gallery · week 12",
    "paper": "a4",
    "margin_mm": 10.0,
    "text_pt": 9.0,
    "note_pt": 9.0,
    "picture_words": "nothing",
    "answer": "Look first at five prints.",
    "others": "",
    "notes": [],
    "plain_notes": [],
    "stands_on": "",
    "key": "",
    "caution": "",
    "made": "",
}
DOT = b'<svg xmlns="http://www.w3.org/2000/svg" width="277" height="9"><circle r="4"/></svg>'
# All signs that mean something in the layouts' language are of these.
WRITTEN = st.text(st.characters(min_codepoint=0x20, max_codepoint=0x7E))


def sheet(**changes: Any) -> Sheet:
    return Sheet("week", FACTS | changes, {"week": DOT})


def test_ligatures_copy_as_letters() -> None:
    (text,) = pages_of(sheet_pdf(sheet()))
    assert FACTS["title"] in text
    assert "Look first at five prints." in text


@settings(max_examples=60)
@given(WRITTEN)
@example('#read("/etc/passwd")')
@example("*bold* _it_ $x^2$ `raw` = heading")
@example("#panic() ]#[ \\ // /* @label <label> ~ -- --- ... '\"")
@example("{x} {0} %s {{")
def test_what_people_wrote_is_never_markup(written: str) -> None:
    (text,) = pages_of(sheet_pdf(sheet(answer=f"begin{written}end")))
    wanted = "".join(f"begin{written}end".split())
    assert wanted in "".join(text.split())


def test_the_same_sheet_has_the_same_bytes() -> None:
    assert sheet_pdf(sheet()) == sheet_pdf(sheet())


def test_only_our_fonts_are_used_and_all_are_embedded() -> None:
    fonts = fonts_of(sheet_pdf(sheet()))
    assert {name.split("-")[0] for name in fonts} == {"Literata", "PublicSans"}
    assert all(fonts.values())


def test_nothing_is_asked_of_the_network(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_args: Any, **_more: Any) -> None:
        raise AssertionError("a sheet asked for the network")

    monkeypatch.setattr(socket, "socket", refuse)
    monkeypatch.setenv("HTTPS_PROXY", "http://127.0.0.1:9")  # the typesetter itself is no Python
    assert sheet_pdf(sheet()).startswith(b"%PDF")


def test_a_picture_of_a_sheet_is_white_paper() -> None:
    (picture,) = sheet_png(sheet(), 40.0)
    assert picture.startswith(b"\x89PNG")

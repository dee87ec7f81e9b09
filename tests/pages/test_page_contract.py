"""Each template uses exactly the fields of its page, and each page is sound HTML."""

import re
from dataclasses import fields, replace
from html.parser import HTMLParser
from typing import Any

import pytest
from jinja2 import meta, nodes

from analysis.results import RoomWeek
from dashboards import render
from dashboards.letters import Letter, letter_subject
from dashboards.pages import PAGES, ErrorPage, RoomWeekPage

VOID = {"meta", "link", "br", "img", "input", "hr"}
NEVER_SAID = ("damage", "alarm", "critical", "compliance score")


def names_used(template: str) -> set[str]:
    """Return the names a template and all it extends or imports take from outside."""
    environment = render.environment()
    source = environment.loader.get_source(environment, template)[0]  # type: ignore[union-attr]
    tree = environment.parse(source)
    used = meta.find_undeclared_variables(tree)
    for node in tree.find_all((nodes.Extends, nodes.Import, nodes.Include)):
        used |= names_used(node.template.value)  # type: ignore[attr-defined]
    own = {node.target for node in tree.find_all(nodes.Import)}
    own |= {node.name for node in tree.find_all(nodes.Macro)}
    return used - own - set(environment.globals) - {"section"}


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.__name__)
def test_a_template_uses_exactly_the_fields_of_its_page(page: Any) -> None:
    assert names_used(page.template) == {f.name for f in fields(page)}


@pytest.mark.parametrize("ending", ["txt", "html"])
def test_a_letter_uses_exactly_its_fields(ending: str) -> None:
    assert names_used(f"{Letter.template}.{ending}") == {f.name for f in fields(Letter)}


@pytest.mark.parametrize("page", [*PAGES, Letter], ids=lambda page: page.__name__)
def test_every_field_says_what_it_is(page: Any) -> None:
    assert page.__doc__
    unsaid = [f.name for f in fields(page) if len(f.metadata.get("help", "")) < 10]
    assert unsaid == []


def test_every_page_is_filled_by_these_tests(filled_pages: list[Any]) -> None:
    assert {type(page) for page in filled_pages} == set(PAGES)


class Outline(HTMLParser):
    """What is checked of a page: nesting, ids, headings, states, fields."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[tuple[str, dict[str, str | None]]] = []
        self.ids: list[str] = []
        self.tags: list[str] = []
        self.bare_fields: list[str] = []
        self.states: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        found = dict(attrs)
        self.tags.append(tag)
        if found.get("id"):
            self.ids.append(str(found["id"]))
        if tag in {"input", "select"} and found.get("type") != "hidden":
            labelled = "aria-label" in found or any(name == "label" for name, _ in self.open)
            if not labelled:
                self.bare_fields.append(str(found))
        if "state" in str(found.get("class", "")).split():
            self.states.append("")
        if tag not in VOID:
            self.open.append((tag, found))

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open and self.open[-1][0] == tag, f"</{tag}> closes {self.open[-3:]}"
        self.open.pop()

    def handle_data(self, data: str) -> None:
        if any(found.get("class") == "word" for _, found in self.open):
            self.states[-1] += data


def outline(html: str) -> Outline:
    """Return what is checked of a page, after it was read to its end."""
    read = Outline()
    read.feed(html)
    read.close()
    assert read.open == []
    return read


def test_every_page_is_sound_html(filled_pages: list[Any]) -> None:
    for page in filled_pages:
        read = outline(render.page_html(page))
        name = type(page).__name__
        assert read.tags.count("h1") == 1, name
        assert len(read.ids) == len(set(read.ids)), name
        assert read.bare_fields == [], name
        assert all(word.strip() for word in read.states), name


def test_every_page_carries_the_caution_and_claims_nothing(filled_pages: list[Any]) -> None:
    for page in filled_pages:
        html = render.page_html(page)
        assert "a conservator decides" in html
        text = re.sub(r"<[^>]+>", " ", html).lower()
        assert [word for word in NEVER_SAID if word in text] == [], type(page).__name__


def test_a_heading_is_the_question_on_the_pages_of_the_round(filled_pages: list[Any]) -> None:
    asked = {type(p).__name__: re.findall(r"<h1>(.*?)</h1>", render.page_html(p))[0]
             for p in filled_pages}  # fmt: skip
    for name in ("ThisWeek", "RoomWeekPage", "WorkPage", "RoundPage", "NoticesPage", "PlanPage"):
        assert asked[name].endswith("?"), name


def test_ink_is_never_alone(filled_pages: list[Any]) -> None:
    for page in filled_pages:
        html = render.page_html(page)
        inked = len(re.findall(r'class="[^"]*\bink-', html))
        assert inked == len(re.findall(r'class="state ink-\w+"><svg class="mark"', html))


def test_what_people_typed_stays_text(week: RoomWeek, filled_pages: list[Any]) -> None:
    page = next(p for p in filled_pages if isinstance(p, RoomWeekPage))
    bad = replace(page, week=replace(week, room_name="<script>alert(1)</script>"))
    html = render.page_html(bad)
    assert "<script>alert" not in html
    assert "&lt;script&gt;alert" in html


def test_a_number_and_its_unit_do_not_part(filled_pages: list[Any]) -> None:
    page = next(p for p in filled_pages if isinstance(p, RoomWeekPage))
    assert "14\N{NO-BREAK SPACE}%RH in 3\N{NO-BREAK SPACE}h" in render.page_html(page)


def test_an_error_shows_its_five_parts() -> None:
    page = ErrorPage(422, "Not read", "north.csv", "line 7", "'abc'", "a number", "Correct it.")
    html = render.page_html(page)
    for part in ("north.csv", "line 7", "&#39;abc&#39;", "a number", "Correct it."):
        assert part in html


def test_a_letter_says_what_where_in_which_order_and_whom_to_call(filled_pages: list[Any]) -> None:
    notice = next(p.notice for p in filled_pages if type(p).__name__ == "NoticePage")
    letter = Letter("Europe/Amsterdam", notice, "http://museum.example/notices/7")
    text = render.letter_text(letter)
    order = [text.index(words) for words in (
        "North gallery", "rose 14 %RH", "Tuesday 17 March 2026, 16:10", "What to do now",
        "extension 214", "1. Salt pans", "2. Quay", "museum.example",
        "conservator decides")]  # fmt: skip
    assert order == sorted(order)
    assert letter_subject(letter) == "North gallery: humidity rising, since Tuesday 16:10"
    assert outline(render.letter_html(letter)).tags.count("h1") == 1
    assert not [word for word in NEVER_SAID if word in text.lower()]


def test_an_ended_letter_asks_for_nothing(filled_pages: list[Any]) -> None:
    notice = next(p.notice for p in filled_pages if type(p).__name__ == "NoticePage")
    ended = Letter("UTC", replace(notice, ended_utc=notice.since_utc), "")
    text = render.letter_text(ended)
    assert "What to do now" not in text
    assert "over" in letter_subject(ended)


def test_a_guide_shows_raw_html_as_text() -> None:
    html = render.guide_html("# Title\n\n<script>x</script>\n\n| a | b |\n|---|---|\n| 1 | 2 |\n")
    assert "<script>" not in html
    assert "<td>1</td>" in html

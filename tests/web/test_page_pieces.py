"""A page in pieces is the page, for each reader; compressed pieces are a gzip file (RFC 1952)."""

import gzip

from hypothesis import given, settings, strategies as st

from service.web.page_pieces import LONGEST_STORED, PagePieces

PLACES = {"NAME-7f": "name", "TOKEN-7f": "token"}
texts = st.text(max_size=60)


@settings(deadline=None)
@given(st.lists(st.one_of(texts, st.sampled_from(sorted(PLACES)))), texts, texts)
def test_each_reader_gets_the_whole_page(parts: list[str], name: str, token: str) -> None:
    page = PagePieces.of("".join(parts), PLACES, "text/html")
    own = {"name": name, "token": token}
    wanted = "".join(parts)
    for place, value in sorted(PLACES.items()):
        wanted = wanted.replace(place, own[value])
    if not any(place in name + token for place in PLACES):
        assert page.body(own).decode() == wanted
    assert gzip.decompress(page.gzipped(own)) == page.body(own)


def test_what_is_longer_than_a_stored_block_is_whole() -> None:
    page = PagePieces.of("a NAME-7f b", PLACES, "text/html")
    own = {"name": "x" * (2 * LONGEST_STORED + 5), "token": ""}
    assert gzip.decompress(page.gzipped(own)) == f"a {own['name']} b".encode()


def test_the_mark_tells_pages_and_readers_apart_and_is_the_same_in_every_process() -> None:
    page = PagePieces.of("Is it taut? NAME-7f", PLACES, "text/html")
    again = PagePieces.of("Is it taut? other-place", {"other-place": "name"}, "text/html")
    ann, ben = {"name": "Ann", "token": "1"}, {"name": "Ben", "token": "1"}
    assert page.mark_of(ann) == again.mark_of(ann) != page.mark_of(ben)
    assert page.mark_of(ann) != PagePieces.of("Was it taut? NAME-7f", PLACES, "text/html").mark_of(
        ann
    )
    alone = PagePieces.of("the same for all", PLACES, "text/html")
    assert alone.mark_of(ann) == alone.mark_of(ben)
    assert alone.mark != PagePieces.of("the same for all", PLACES, "application/json").mark

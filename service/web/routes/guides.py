"""The guides, and every number with its origin."""

from collections.abc import Iterator
from importlib.resources import files
from importlib.resources.abc import Traversable
from typing import NamedTuple

from fastapi import APIRouter
from fastapi.responses import HTMLResponse, Response

from analysis.errors import UnknownNameError
from analysis.parameters import tables
from analysis.references import SEEN_WORDS, references
from dashboards.lines import GuideLine, ReferenceLine
from dashboards.pages.page import GuidePage, GuidesPage, SourcesPage
from dashboards.render import guide_html
from dashboards.text.messages import language
from service.web.routes.common import shown

router = APIRouter()


class _Guide(NamedTuple):
    """One guide in the house's language, or in English where nobody has translated it."""

    slug: str
    text: str
    language: str


def _folder() -> Traversable:
    return files("dashboards") / "guides"


def _guides() -> Iterator[_Guide]:
    for path in sorted(_folder().iterdir(), key=lambda p: p.name):
        if path.name.endswith(".md"):
            own = _folder() / language() / path.name
            found = own if own.is_file() else path
            text = found.read_text(encoding="utf-8")
            words = language() if found is own else "en"
            yield _Guide(path.name.removesuffix(".md"), text, words)


@router.get("/guides")
def every_guide() -> HTMLResponse:
    """List the guides."""
    return shown(GuidesPage([GuideLine(one.slug, *_opening(one.text)) for one in _guides()]))


@router.get("/guides/figures/{name}")
def figure(name: str) -> Response:
    """Send a figure of a guide."""
    figures = _folder() / "figures"
    own, path = figures / language() / name, figures / name
    if "/" in name or not name.endswith(".svg") or not path.is_file():
        raise UnknownNameError(read="figures of the guides", name=name, known=[])
    path = own if own.is_file() else path
    return Response(path.read_bytes(), media_type="image/svg+xml")


@router.get("/guides/{slug}")
def guide(slug: str) -> HTMLResponse:
    """Show one guide."""
    known = {one.slug: one for one in _guides()}
    if slug not in known:
        raise UnknownNameError(read="guides", name=slug, known=known)
    found = known[slug]
    title, _first = _opening(found.text)
    return shown(GuidePage(title, guide_html(found.text), found.language))


def _opening(text: str) -> tuple[str, str]:
    """Return a guide's title and the first paragraph under it."""
    title, _, rest = text.partition("\n")
    first = rest.strip().split("\n\n")[0].replace("\n", " ")
    return title.lstrip("# ").strip(), first


@router.get("/sources")
def sources() -> HTMLResponse:
    """Show every published, derived or assumed number with its origin."""
    return shown(
        SourcesPage(
            tables={
                name: [row for rows in groups.values() for row in rows.values()]
                for name, groups in tables().items()
            },
            references=[
                ReferenceLine(r.key, r.authors, r.title, str(r.year), r.where, SEEN_WORDS[r.seen])
                for r in references().values()
            ],
        )
    )

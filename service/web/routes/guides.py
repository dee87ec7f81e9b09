"""The guides, and every number with its origin."""

from collections.abc import Iterator
from importlib.resources import files
from importlib.resources.abc import Traversable

from fastapi import APIRouter
from fastapi.responses import HTMLResponse, Response

from analysis.errors import UnknownNameError
from analysis.parameters import tables
from analysis.references import SEEN_WORDS, references
from dashboards.lines import GuideLine, ReferenceLine
from dashboards.pages.page import GuidePage, GuidesPage, SourcesPage
from dashboards.render import guide_html
from service.web.routes.common import shown

router = APIRouter()


def _folder() -> Traversable:
    return files("dashboards") / "guides"


def _guides() -> Iterator[tuple[str, str]]:
    for path in sorted(_folder().iterdir(), key=lambda p: p.name):
        if path.name.endswith(".md"):
            yield path.name.removesuffix(".md"), path.read_text(encoding="utf-8")


@router.get("/guides")
def every_guide() -> HTMLResponse:
    """List the guides."""
    return shown(GuidesPage([GuideLine(slug, *_opening(text)) for slug, text in _guides()]))


@router.get("/guides/figures/{name}")
def figure(name: str) -> Response:
    """Send a figure of a guide."""
    path = _folder() / "figures" / name
    if "/" in name or not name.endswith(".svg") or not path.is_file():
        raise UnknownNameError(read="figures of the guides", name=name, known=[])
    return Response(path.read_bytes(), media_type="image/svg+xml")


@router.get("/guides/{slug}")
def guide(slug: str) -> HTMLResponse:
    """Show one guide."""
    known = dict(_guides())
    if slug not in known:
        raise UnknownNameError(read="guides", name=slug, known=known)
    return shown(GuidePage(title=_opening(known[slug])[0], body=guide_html(known[slug])))


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

"""What every route needs: the museum, the jobs, a page as a response."""

from typing import Annotated

from fastapi import Depends, Request
from fastapi.responses import HTMLResponse, RedirectResponse

from dashboards.render import Page, page_html
from service.jobs import Jobs
from service.museum import Museum


def _museum(request: Request) -> Museum:
    museum: Museum = request.app.state.museum
    return museum


def _jobs(request: Request) -> Jobs:
    jobs: Jobs = request.app.state.jobs
    return jobs


MuseumDep = Annotated[Museum, Depends(_museum)]
JobsDep = Annotated[Jobs, Depends(_jobs)]


def shown(page: Page) -> HTMLResponse:
    """Return a page as a response."""
    return HTMLResponse(page_html(page))


def go_to(address: str) -> RedirectResponse:
    """Send the browser on after a form was sent, so that a reload does not send it again."""
    return RedirectResponse(address, status_code=303)


def own_address(address: str, otherwise: str) -> str:
    """Return an address sent along with a form if it is one of this program's, else another."""
    return address if address.startswith("/") and not address.startswith("//") else otherwise

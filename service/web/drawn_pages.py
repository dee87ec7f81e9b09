"""Pages that many read: drawn once while nothing has changed, whoever asks.

What differs from one reader to another of the same role, the name and what forms send back, is put
into its places afterwards. A page rests on everything that the register has a number for, on the
notices that are open, on the newest forecast, and on the minute: no older one is ever shown.
"""

import secrets
from collections.abc import Callable
from dataclasses import replace
from typing import Annotated

from fastapi import Depends, Request
from fastapi.responses import HTMLResponse
from markupsafe import escape

from dashboards.render import Page, page_html, units_unbroken
from dashboards.text.messages import way
from dashboards.visitor import needs_nothing, visited_by, visitor
from service.answers.cache import AnswerCache
from service.answers.museum import Museum
from service.storage.forecasts import forecast_names
from service.storage.notices import mark_of_open
from service.storage.versions import Stamp

MOST_BYTES = 16 * 2**20
MINUTE_S = 60


class DrawnPages:
    """The pages of one house as they were drawn last, for each role."""

    def __init__(self) -> None:
        self._pages = AnswerCache(MOST_BYTES)
        # What nobody who writes into the register can know stands where a reader's own goes.
        self._name, self._token = secrets.token_hex(16), secrets.token_hex(16)

    def shown(self, museum: Museum, name: str, make: Callable[[], Page]) -> HTMLResponse:
        """Return a page as a response; ``name`` tells which, and is none that a reader chose."""
        reader = visitor()
        anybody = replace(
            reader,
            account=self._name if reader.account else "",
            name=self._name if reader.name else "",
            form_token=self._token if reader.form_token else "",
        )

        def drawn() -> str:
            with visited_by(anybody):
                return page_html(make())

        # What a reader may use hangs on the role alone.
        kind = (name, way(), replace(anybody, needs=needs_nothing))
        html = self._pages.get(kind, _rests_on(museum), drawn)
        html = html.replace(self._token, reader.form_token)
        return HTMLResponse(html.replace(self._name, str(escape(units_unbroken(reader.name)))))


def _rests_on(museum: Museum) -> Stamp:
    """Return what a page rests on; equal means that it would be drawn the same."""
    forecast = forecast_names(museum.stores.forecasts)[-1:]
    minute = int(museum.clock().timestamp() // MINUTE_S)
    return (
        *museum.versions().whole(),
        (repr((mark_of_open(museum.stores.register), forecast)), minute),
    )


def _drawn_pages(request: Request) -> DrawnPages:
    drawn: DrawnPages = request.app.state.drawn
    return drawn


DrawnDep = Annotated[DrawnPages, Depends(_drawn_pages)]

"""Who a page is made for: said on it, and carried by its forms.

A page's template receives its own fields alone; who asks for it belongs to the request, as the
site's way of numbers does, and is entered the same way.
"""

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass

from jinja2.ext import Extension

IN_HOUSE, OF_GROUP = "house", "group"


def needs_nothing(method: str, address: str) -> str:
    """Return that a request lacks no role, as where the pages are open."""
    return ""


@dataclass(frozen=True)
class Visitor:
    """Who asks for a page.

    Parameters
    ----------
    account, name, role : str
        Empty where nobody is signed in.
    open : bool
        Whether nobody has to sign in here.
    form_token : str
        What every form sends back, so that no page elsewhere can make one.
    needs : callable
        Of a method and an address: the least role that may ask for it, if this visitor may not;
        otherwise empty.
    among : str
        `IN_HOUSE` on a page of one house of several, `OF_GROUP` on one of them all; empty where a
        house is alone.
    """

    account: str = ""
    name: str = ""
    role: str = ""
    open: bool = True
    form_token: str = ""
    needs: Callable[[str, str], str] = needs_nothing
    among: str = ""


NOBODY = Visitor()
_visitor: ContextVar[Visitor] = ContextVar("visitor", default=NOBODY)


@contextmanager
def visited_by(visitor: Visitor) -> Iterator[None]:
    """Make every page within for this visitor."""
    token = _visitor.set(visitor)
    try:
        yield
    finally:
        _visitor.reset(token)


def visitor() -> Visitor:
    """Return who the page is made for."""
    return _visitor.get()


class FormTokens(Extension):
    """Puts the token into every form that posts, and the visitor's name into "your name".

    It is done where a template is read, so that no form can forget it.

    Examples
    --------
    >>> from jinja2 import Environment
    >>> made = Environment(extensions=[FormTokens], autoescape=True)
    >>> made.globals["visitor"] = lambda: Visitor(form_token="t1")
    >>> made.from_string('<form method="post" action="/a"></form>').render()
    '<form method="post" action="/a"><input type="hidden" name="form_token" value="t1"></form>'
    """

    POSTS = re.compile(r'<form\b[^>]*\bmethod="post"[^>]*>')
    BY = re.compile(r'<input name="(?:by|who)"(?! value)')
    TOKEN = (
        r"\g<0>{% if visitor().form_token %}"
        r'<input type="hidden" name="form_token" value="{{ visitor().form_token }}">{% endif %}'
    )

    def preprocess(self, source: str, name: str | None, filename: str | None = None) -> str:
        """Return a template's text with what each form carries."""
        with_token = self.POSTS.sub(self.TOKEN, source)
        return self.BY.sub(r'\g<0> value="{{ visitor().name }}"', with_token)

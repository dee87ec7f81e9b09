"""What a page offers to whom: forms, buttons and links that its reader may not use are left out.

It is done to the page as it is made, by the table that lets requests in, so that no template has
to know a role and none can offer what would be refused. One sentence says who may do the rest.
"""

import re
from collections.abc import Callable

from dashboards.text.account_text import offered_to_others
from dashboards.visitor import Visitor

FORM = re.compile(r"<form\b([^>]*)>.*?</form>", re.DOTALL)
LINK = re.compile(r"<a\b([^>]*)>(.*?)</a>", re.DOTALL)
LINKS = re.compile(r'<(p|nav|div) class="links"[^>]*>.*?</\1>', re.DOTALL)
NAVIGATION = re.compile(r"<nav\b[^>]*>.*?</nav>", re.DOTALL)
AS_A_BUTTON = re.compile(r'\bclass="[^"]*\b(?:button|quiet)\b')
ADDRESS = re.compile(r'\b(?:href|action)="(/[^"?#]*)')
POSTS = re.compile(r'\bmethod="post"')
GONE = "\0"  # stands in no page: marks where something was left out
EMPTY = re.compile(
    r"<(p|li|ul|div|span|details|section|nav)\b[^>]*>"
    r"(?:\s*<(summary|h2|h3)\b[^>]*>(?:(?!</\2>).)*</\2>)?"
    rf"[\s{GONE}]*{GONE}[\s{GONE}]*</\1>",
    re.DOTALL,
)


def what_is_offered(html: str, visitor: Visitor) -> str:
    """Return a page without what its reader may not use.

    Parameters
    ----------
    html : str
        A whole page.
    visitor : Visitor
        Whom it is for; its ``needs`` says which role a request lacks.

    Returns
    -------
    str
        The page; before its end stands who may do what was left out, if anything was.
    """
    if visitor.open:
        return html
    lacking: list[str] = []
    before, main, rest = html.partition("<main")
    inside, end, after = rest.partition("</main>")
    inside = _left_out(inside, visitor, lacking)
    if lacking and visitor.account:
        inside += f'<p class="facts others">{offered_to_others(lacking)}</p>\n'
    return "".join(
        (_left_out(before, visitor, []), main, inside, end, _left_out(after, visitor, []))
    )


def _left_out(html: str, visitor: Visitor, lacking: list[str]) -> str:
    """Return a part of a page without what is not offered, noting the roles that are lacking."""

    def lacks(method: str, attributes: str) -> bool:
        found = ADDRESS.search(attributes)
        role = visitor.needs(method, found[1]) if found else ""
        if role and role not in lacking:
            lacking.append(role)
        return bool(role)

    html = FORM.sub(lambda form: _form(form, lacks), html)
    html = NAVIGATION.sub(lambda part: _without_links(part[0], lacks), html)
    html = LINKS.sub(lambda part: _without_links(part[0], lacks), html)
    html = LINK.sub(lambda link: _link(link, lacks), html)
    while (fewer := EMPTY.sub(GONE, html)) != html:
        html = fewer
    return html.replace(GONE, "")


Lacks = Callable[[str, str], bool]


def _form(form: re.Match[str], lacks: Lacks) -> str:
    method = "POST" if POSTS.search(form[1]) else "GET"
    return GONE if lacks(method, form[1]) else form[0]


def _without_links(html: str, lacks: Lacks) -> str:
    return LINK.sub(lambda link: GONE if lacks("GET", link[1]) else link[0], html)


def _link(link: re.Match[str], lacks: Lacks) -> str:
    """Return a link; of one that is not offered its words, where they are part of a sentence."""
    if not lacks("GET", link[1]):
        return link[0]
    return GONE if AS_A_BUTTON.search(link[1]) else link[2]

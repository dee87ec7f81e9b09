"""How heavy the pages are: every page that links lead to, uncompressed, with its pictures.

``python -m bench page_weight`` walks the pages of ten rooms and 170 works;
``python -m bench.page_weight FOLDER`` those of a museum that is there. What is told are bytes, the
same on every machine; a page is to stay below 400 kB.
"""

import re
import shutil
import sys
import tempfile
from collections import Counter, deque
from html import unescape
from pathlib import Path

import httpx
from fixtures.serving import served

from bench.full_museum import MORNING, Size, build
from service.web.permissions import permission

MOST_BYTES = 400_000
OF_EACH = 4  # pages of one kind that are asked for: weeks and works are many, and alike
YEARS = 1.2
WAIT_S = 600.0
LINK = re.compile(r'\bhref="(/[^"#]*)')


def walked(client: httpx.Client, begin: str = "/") -> dict[str, int]:
    """Return every page that links lead to with its size in bytes, few of each kind."""
    found: dict[str, int] = {}
    seen, kinds, waiting = {begin}, Counter[str](), deque([begin])
    while waiting:
        address = waiting.popleft()
        page = client.get(address, timeout=WAIT_S)
        if page.status_code != 200 or not page.headers["content-type"].startswith("text/html"):
            continue
        found[address] = len(page.content)
        for link in dict.fromkeys(unescape(one) for one in LINK.findall(page.text)):
            kind = kind_of(link)
            if link in seen or kinds[kind] >= OF_EACH:
                continue
            seen.add(link)
            kinds[kind] += 1
            waiting.append(link)
    return found


def kind_of(address: str) -> str:
    """Return what an address is for, and which of its questions are asked."""
    path, _, query = address.partition("?")
    line = permission("GET", path)
    asked = sorted(one.partition("=")[0] for one in query.split("&") if one)
    return " ".join([path if line is None else line.template, *asked])


def told(found: dict[str, int]) -> list[str]:
    """Return the heaviest pages in lines, and how many are too heavy."""
    heavy = sorted(found.items(), key=lambda one: -one[1])
    over = sum(size > MOST_BYTES for size in found.values())
    lines = [f"{size / 1000:7.0f} kB  {address}" for address, size in heavy[:12]]
    return [f"page weight: {len(found)} pages, {over} above {MOST_BYTES // 1000} kB", *lines]


def run() -> list[str]:
    """Return the heaviest pages of ten rooms and 170 works."""
    folder = Path(tempfile.mkdtemp())
    try:
        size = Size(years=YEARS)
        build(folder, size)
        with served(folder, as_if=MORNING.isoformat(), draws=size.draws) as client, client:
            return told(walked(client))
    finally:
        shutil.rmtree(folder)


if __name__ == "__main__":
    with served(Path(sys.argv[1])) as here, here:
        print("\n".join(told(walked(here))))

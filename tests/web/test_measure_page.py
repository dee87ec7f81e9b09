"""What to measure next: the page and the command, on a served museum."""

import re
from html import unescape
from pathlib import Path

import httpx
import pytest
from click.testing import CliRunner
from fixtures.serving import DRAWS

from service.commands.measure import command


def test_the_page_ranks_acts_and_each_leads_to_its_form(web: httpx.Client) -> None:
    page = web.get("/measure")
    assert page.status_code == 200
    text = unescape(re.sub(r"<[^>]+>", " ", page.text))
    assert "What should we measure next?" in text
    assert "Never open a frame or touch a print for a measurement" in text
    acts = re.findall(r'<tr><td>[^<]+</td><td[^>]*><a href="([^"]+)">', page.text)
    assert acts
    assert {web.get(address).status_code for address in set(acts)} == {200}


def test_the_command_says_the_same(
    own_museum: Path, web: httpx.Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("STILLTAUT_DRAWS", str(DRAWS))
    answer = CliRunner().invoke(command, ["--data", str(own_museum)], standalone_mode=False)
    assert answer.return_value == 0
    first = answer.output.splitlines()[0]
    page = unescape(re.sub(r"<[^>]+>", " ", web.get("/measure").text))
    assert first in page.replace("\N{NO-BREAK SPACE}", " ")

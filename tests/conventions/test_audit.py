"""A pin that is known to be vulnerable ends the check; one that nobody could look at is named."""

from pathlib import Path

import pytest
from bench.audit import asked, verdict

# The form in which pip-audit 2 answers, by its own README ("JSON").
VULNERABLE = {
    "dependencies": [
        {"name": "flask", "version": "0.5", "vulns": [
            {"id": "PYSEC-2019-179", "fix_versions": ["1.0"], "aliases": [], "description": ""},
            {"id": "PYSEC-2018-66", "fix_versions": ["0.12.3"], "aliases": [], "description": ""},
        ]},
        {"name": "jinja2", "version": "3.0.2", "vulns": []},
    ],
    "fixes": [],
}  # fmt: skip
UNASKED = {"dependencies": [{"name": "ours", "skip_reason": "not found"}], "fixes": []}


def test_a_vulnerable_pin_fails_and_is_named() -> None:
    code, lines = verdict(VULNERABLE)
    assert code == 1
    assert "flask 0.5: PYSEC-2019-179, PYSEC-2018-66; mended in 0.12.3, 1.0" in lines[0]
    assert lines[-1].endswith("2 pins looked at, 1 known to be vulnerable")


@pytest.mark.parametrize("said", ["no network", UNASKED])
def test_what_could_not_be_asked_is_said_and_does_not_fail(said: object) -> None:
    code, lines = verdict(said)  # type: ignore[arg-type]
    assert code == 0
    assert "NOT AUDITED" in lines[0]


def test_a_pin_long_known_to_be_vulnerable_fails(tmp_path: Path) -> None:
    pins = tmp_path / "pins.txt"
    pins.write_text("jinja2==2.4.1\n", encoding="utf-8")
    said = asked(str(pins))
    if isinstance(said, str) or "skip_reason" in said["dependencies"][0]:
        pytest.skip("no advisories can be asked from this machine")
    assert verdict(said)[0] == 1

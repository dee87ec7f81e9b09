"""The analysis as a library: the names at its top, and the notebook of the guides."""

import json
import re
import subprocess
import sys
from pathlib import Path

import pytest

import analysis
from analysis.results import Listing

ROOT = Path(__file__).resolve().parents[2]
GUIDE = (ROOT / "dashboards/guides/notebook.md").read_text(encoding="utf-8")


def test_each_name_at_the_top_is_the_one_of_its_module() -> None:
    assert set(analysis.__all__) == set(analysis.PLACES)
    for name, place in analysis.PLACES.items():
        assert getattr(analysis, name) is getattr(sys.modules[place], name)


def test_an_unknown_name_is_answered_with_the_known_ones() -> None:
    with pytest.raises(AttributeError, match=r"'dew_point'; it has .*dew_point_c"):
        _ = analysis.dew_point


def test_importing_the_package_alone_loads_no_numbers_package() -> None:
    code = "import sys, json, analysis; print(json.dumps(sorted(sys.modules)))"
    asked = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert not {"numpy", "pandas", "numba"} & set(json.loads(asked.stdout))


def test_the_notebook_judges_a_work_in_under_twenty_lines(monkeypatch: pytest.MonkeyPatch) -> None:
    (code,) = re.findall(r"```python\n(.*?)```", GUIDE, re.DOTALL)
    assert len([line for line in code.splitlines() if line.strip()]) < 20
    monkeypatch.chdir(ROOT)
    names: dict[str, object] = {}
    exec(code, names)
    judged, events = names["judged"], names["events"]
    assert judged.work_id == "example"  # type: ignore[attr-defined]
    assert judged.listing is not Listing.CANNOT_TELL  # type: ignore[attr-defined]
    low, mid, high = (getattr(judged.headroom_up_pct, at) for at in ("low", "mid", "high"))  # type: ignore[attr-defined]
    assert low < mid < high
    assert events

"""What one process worked out, the next goes on from: no work is begun from the start again."""

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from fixtures.serving import DRAWS

from analysis.works import Finish, Paper, Work
from service.estimates.fingerprints import work_facts

UNKNOWN = frozenset({"paper", "finish", "panel", "adhesive", "frame", "glazing"})
FACTS = """
from analysis.works import Finish, Paper, Work
from service.estimates.fingerprints import work_facts
unknown = frozenset({unknown})
work = Work("W-1", "Quay", 900.0, 700.0, Paper.FIBRE_BASE, Finish.GLOSSY, unknown=unknown)
print(work_facts(work))
"""
FIRST_PAGE = """
import json, sys
from pathlib import Path
from analysis.simulation.checkpoints import mondays
from service.answers.museum import Museum
from service.estimates import checkpoints, learned, shown
from service.settings import Settings
from service.storage.stores import Stores
from service.web.drawn_pages import DrawnPages
from service.web.routes.week import this_week

counts = dict.fromkeys(("begun", "begun anew", "gone on", "learned", "shown"), 0)

def counted(module, name, key_of, many):
    made = getattr(module, name)
    def wrapped(*given, **named):
        counts[key_of(given, named)] += many(given)
        return made(*given, **named)
    setattr(module, name, wrapped)

def begins(given, named):
    if named["since"] is not None:
        return "gone on"
    week = [one for one in mondays(given[2]) if one <= named["detail_from"]]
    return "begun anew" if week else "begun"  # in the first week of a record there is none yet

counted(checkpoints, "run", begins, lambda given: len(given[0]))
counted(learned, "learn", lambda given, named: "learned", lambda given: len(given[0]))
counted(shown, "_from_the_start", lambda given, named: "shown", lambda given: 1)
settings = Settings(data_dir=Path(sys.argv[1]), draws=int(sys.argv[2]))
with Stores.open(settings) as stores:
    page = this_week(Museum(stores, settings), DrawnPages()).body
print(json.dumps([counts, len(page)]))
"""


def said(script: str, *given: str, seed: int) -> str:
    """What a process of its own says, whose sets have an order of their own."""
    environment = {**os.environ, "PYTHONHASHSEED": str(seed)}
    found = subprocess.run(
        [sys.executable, "-c", script, *given],
        capture_output=True, text=True, check=True, env=environment,
    )  # fmt: skip
    return found.stdout.splitlines()[-1]


def test_a_work_has_the_same_name_in_every_process() -> None:
    script = FACTS.format(unknown=sorted(UNKNOWN))
    work = Work("W-1", "Quay", 900.0, 700.0, Paper.FIBRE_BASE, Finish.GLOSSY, unknown=UNKNOWN)
    assert {said(script, seed=seed) for seed in (1, 2, 3)} == {work_facts(work)}


@pytest.mark.long
@pytest.mark.slow
def test_a_second_process_answers_the_first_page_from_what_the_first_one_kept(
    own_museum: Path,
) -> None:
    def asked(seed: int) -> tuple[dict[str, int], int]:
        counts, size = json.loads(said(FIRST_PAGE, str(own_museum), str(DRAWS), seed=seed))
        return counts, size

    results = own_museum / "results"
    shutil.rmtree(results)
    first, size = asked(1)
    assert first["begun anew"] > 0
    assert first["learned"] > 0
    told, size_told = asked(2)
    assert not any(told.values())  # what was said is read as it stands
    shutil.rmtree(results / "answers")
    gone_on, size_gone_on = asked(3)
    assert gone_on["gone on"] > 0
    assert not any(gone_on[name] for name in ("begun anew", "learned", "shown"))
    assert size == size_told == size_gone_on

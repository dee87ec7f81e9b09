"""A field added in a build of its own: one line, one step, and it is everywhere."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PACKAGES = ("analysis", "dashboards", "service", "sample_logs")
# The first of the two places: the line in the record's class.
FIELD = """    backing_mm: Annotated[
        Known,
        Field(
            label="Thickness of the backing board",
            kind=Kind.NUMBER,
            unit="mm",
            low=0,
            high=50,
            may_be_range=True,
            example="1.4",
            without="common board is taken",
            since="0.2",
        ),
    ] = None
"""
AFTER = '    by: Annotated[str, Field(label="Closed by", example="the bench")] = ""\n'
# The second: the step of the schema.
STEP = '''"""A field of a test build."""
import sqlalchemy as sa
from alembic import op
revision = "9000"
down_revision = "{last}"
def upgrade() -> None:
    op.add_column("frames", sa.Column("backing_mm", sa.Text(), nullable=True))
'''
LOOK = """
import sys
from pathlib import Path
from fastapi.testclient import TestClient
from analysis.records import REGISTER, model_of
from service.register.file_guide import column_words, example_files
from service.register.file_text import RegisterFileError
from service.register.register_files import load_register, write_register
from service.settings import Settings
from service.storage.stores import Stores
from service.web.app import create_app

folder = Path(sys.argv[1])
settings = Settings(data_dir=folder / "museum")
(folder / "in").mkdir()
for name, text in example_files().items():
    (folder / "in" / name).write_text(text)
with Stores.open(settings) as stores:
    load_register(stores, folder / "in")
    write_register(stores, folder / "out")
    frames = (folder / "out" / "frames.csv").read_text()
    assert "backing_mm" in frames.splitlines()[0] and "1.4" in frames, frames
    (folder / "in" / "frames.csv").write_text(frames.replace("1.4", "900"))
    try:
        load_register(stores, folder / "in")
        raise AssertionError("900 mm were kept")
    except RegisterFileError as problem:
        assert "a number from 0 to 50 mm" in str(problem), problem
assert "empty: common board is taken" in column_words("frames.csv")["backing_mm"]
own = {"base_url": "http://localhost", "client": ("127.0.0.1", 9)}
with TestClient(create_app(settings), **own) as client:
    form = client.get("/works/2021.04/record/framing").text
    assert 'name="backing_mm"' in form and 'name="backing_mm_high"' in form
    sent = {"who": "A. Person", "frame": "D", "closed_utc": "2025-03-01"}
    wrong = client.post("/works/2021.04/record/framing", data=sent | {"backing_mm": "-2"})
    assert wrong.status_code == 422
    assert "from 0 to 50 mm" in wrong.text.replace(chr(160), " ")
    right = sent | {"backing_mm_low": "1", "backing_mm_high": "2"}
    page = client.post("/works/2021.04/record/framing", data=right, follow_redirects=True).text
    page = page.replace(chr(160), " ")
    assert "Thickness of the backing board" in page and "about 1 to 2 mm" in page
    told = client.get("/api/works/2021.04/record").json()["framings"]
    assert [one["backing_mm"] for one in told] == [1.4, {"low": 1.0, "high": 2.0}], told
schema = model_of(REGISTER["frames.csv"]).model_json_schema()["properties"]["backing_mm"]
assert schema["title"] == "Thickness of the backing board" and schema["unit"] == "mm", schema
print("everywhere")
"""


@pytest.mark.long
def test_a_field_is_one_line_and_one_step_and_is_everywhere(tmp_path: Path) -> None:
    build = tmp_path / "build"
    for package in PACKAGES:  # compiled code goes along: it is of use where its source is equal
        shutil.copytree(ROOT / package, build / package)
    declared = build / "analysis/records/work_records.py"
    text = declared.read_text(encoding="utf-8")
    assert text.count(AFTER) == 1
    declared.write_text(text.replace(AFTER, FIELD + AFTER), encoding="utf-8")
    steps = build / "service/storage/migrations/versions"
    last = max(path.name[:4] for path in steps.glob("*.py"))
    (steps / "9000_a_field_more.py").write_text(STEP.format(last=last), encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-W", "ignore", "-c", LOOK, str(tmp_path)],
        cwd=build,
        env={**os.environ, "PYTHONPATH": str(build)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.stdout.endswith("everywhere\n"), done.stderr[-3000:]

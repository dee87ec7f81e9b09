"""The table by which readings of a file are scored: whole, with reasons, and what it adds up to."""

import math
import tomllib

import pytest

from service.ingest.evidence import TABLE, limit, measures, score


def test_every_row_has_a_number_and_a_reason() -> None:
    with TABLE.open("rb") as file:
        rows = [row for subject in tomllib.load(file).values() for row in subject.values()]
    assert len(rows) > 20
    for row in rows:
        assert len(row["reason"]) > 20
        assert "value" in row or {"weight", "poor", "good"} <= set(row)


def test_measures_run_from_poor_to_good() -> None:
    for measure in measures("time"):
        assert measure.good > measure.poor
        assert measure.points(measure.poor) == 0.0
        assert measure.points(measure.good) == 1.0


def test_a_vital_measure_rules_a_proposal_out_and_silence_costs_nothing() -> None:
    good = {"readable": 1.0, "single": 1.0, "rising": 1.0}
    assert score("time", good) == 1.0
    assert score("time", {**good, "regular": math.nan}) == 1.0
    assert score("time", {**good, "heading": 0.0}) == pytest.approx(10 / 12)
    assert score("time", {**good, "single": 0.5}) == 0.0
    assert score("time", {}) == 0.0
    assert 0 < limit("accept", "margin") < limit("accept", "clear") < 1

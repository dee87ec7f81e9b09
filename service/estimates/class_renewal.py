"""Renewing what works lend each other: from the numbers that were measured of all works."""

import json
import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from pathlib import Path

from analysis.errors import OutOfRangeError
from analysis.learning.class_knowledge import CLASS_FACTS, ClassSummary, elsewhere, pooled
from analysis.learning.stated_values import table_row
from analysis.parameters import parameter
from analysis.results import Range
from analysis.works import Override, Work
from service.storage import class_knowledge
from service.storage.class_knowledge import Knowledge, Prior
from service.storage.stores import Stores
from service.storage.works import as_work, work_records

NIGHTLY = timedelta(hours=24)
Key = tuple[str, tuple[tuple[str, str], ...]]


def renew(stores: Stores, at_utc: datetime, *, by: str) -> Knowledge:
    """Pool what was measured of all works, class by class, and keep it as a new version."""
    records = work_records(stores.register)
    works = [as_work(record, at_utc) for record in records.values()]
    prior = class_knowledge.prior_of(stores.register)
    summaries = summaries_of(works, prior)
    known = class_knowledge.latest(stores.register)
    if known is None and not summaries:
        return Knowledge(0, at_utc, by, ())
    return class_knowledge.keep(stores.register, summaries, by=by, at_utc=at_utc)


def renew_when_due(stores: Stores, at_utc: datetime) -> None:
    """Renew what works lend each other where it is a day old, or was never made."""
    known = class_knowledge.latest(stores.register)
    if not class_knowledge.teaching(stores.register):
        return
    if known is None or at_utc - known.made_utc >= NIGHTLY:
        renew(stores, at_utc, by="nightly")


def summaries_of(works: Sequence[Work], prior: Prior | None = None) -> list[ClassSummary]:
    """Return what each class lends: of which something was measured, here or elsewhere."""
    measured: dict[Key, dict[str, Override]] = defaultdict(dict)
    example: dict[Key, Work] = {}
    for work in works:
        for name in CLASS_FACTS:
            kind = class_of(work, name)
            if kind is None:
                continue
            example.setdefault((name, kind), work)
            if (stated := _stated(work, name)) is not None:
                measured[name, kind][work.work_id] = stated
    others = {(one.name, one.kind): one for one in prior.summaries} if prior else {}
    keys = sorted(set(measured) | (set(others) & set(example)))
    return [_summary(key, example[key], measured[key], others.get(key), prior) for key in keys]


def _summary(
    key: Key,
    example: Work,
    measured: Mapping[str, Override],
    other: ClassSummary | None,
    prior: Prior | None,
) -> ClassSummary:
    name, kind = key
    row = table_row(example, name)
    assert row is not None  # every pooled number has a row of the tables
    begin = Range(row.low, row.value, row.high)
    if other is not None:
        begin = elsewhere(Range(other.low, other.value, other.high))
    found = pooled(begin, [measured[work] for work in sorted(measured)])
    said = f"{prior.name} ({prior.date})" if other is not None and prior is not None else ""
    value, low, high = (_digits(x) for x in (found.mid, found.low, found.high))
    return ClassSummary(name, kind, value, low, high, tuple(sorted(measured)), said)


def _digits(value: float) -> float:
    """Return a number with four digits that count."""
    return round(value, 3 - math.floor(math.log10(value)))


def class_of(work: Work, name: str) -> tuple[tuple[str, str], ...] | None:
    """Return the class of a work for a number; None where nobody knows what it is."""
    facts = CLASS_FACTS[name]
    if any(fact in work.unknown for fact in facts):
        return None
    return tuple((fact, str(getattr(work, fact))) for fact in facts)


def _stated(work: Work, name: str) -> Override | None:
    """Return what was measured of a work; a mount record's number counts as measured."""
    known = getattr(work, name, None)
    if isinstance(known, float):
        near = parameter("measuring", "pooling", "stated_factor").value
        return Override(known, known / near, known * near, "the mount record")
    stated = work.overrides.get(name)
    return stated if stated is not None and stated.low > 0.0 else None


def write_summaries(stores: Stores, path: Path, name: str) -> Prior:
    """Write what is known of the classes to a file that another museum may read.

    Raises
    ------
    OutOfRangeError
        If nothing has been pooled yet.
    """
    known = class_knowledge.latest(stores.register)
    if known is None or not known.summaries:
        raise OutOfRangeError(
            read="class summaries",
            where=str(path),
            found="nothing pooled yet",
            expected="at least one number measured of a work",
            action="Measure something, renew, and write the file then.",
        )
    prior = Prior(name, known.made_utc.date().isoformat(), known.summaries)
    text = json.dumps(class_knowledge.as_values(prior), indent=2, ensure_ascii=False)
    path.write_text(text + "\n", encoding="utf-8")
    return prior


def read_summaries(stores: Stores, path: Path, *, by: str, at_utc: datetime) -> Prior:
    """Take another museum's file of class summaries as the prior.

    Raises
    ------
    OutOfRangeError
        If the file is not one of class summaries, or a range in it does not rise.
    """
    try:
        prior = class_knowledge.prior_from(json.loads(path.read_text(encoding="utf-8")))
    except (ValueError, KeyError, TypeError, AttributeError) as problem:
        raise _unreadable(path, f"{type(problem).__name__}: {problem}") from problem
    for one in prior.summaries:
        if one.name not in CLASS_FACTS or not 0.0 < one.low <= one.value <= one.high:
            raise _unreadable(path, f"{one.name}: {one.low}, {one.value}, {one.high}")
    class_knowledge.put_prior(stores.register, prior, by=by, at_utc=at_utc)
    return prior


def _unreadable(path: Path, found: str) -> OutOfRangeError:
    return OutOfRangeError(
        read="class summaries",
        where=path.name,
        found=found,
        expected="a file as `stilltaut classes --write` makes it",
        action="Ask the other museum for the file again. Nothing was taken in.",
    )

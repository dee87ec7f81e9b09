"""What works lend each other, as the register keeps it: dated versions, a prior, and one switch."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

from analysis.learning.class_knowledge import ClassSummary
from analysis.works import Borrowed
from service.storage.places import SiteSetting, put_setting, settings
from service.storage.register import Register

KNOWLEDGE, PRIOR, SWITCH = "class knowledge", "class prior", "works teach each other"


@dataclass(frozen=True)
class Knowledge:
    """One version of what is known of the classes, and when it was made."""

    version: int
    made_utc: datetime
    by: str
    summaries: tuple[ClassSummary, ...]


@dataclass(frozen=True)
class Prior:
    """Summaries of another museum, with its name and their date."""

    name: str
    date: str
    summaries: tuple[ClassSummary, ...]


def teaching(register: Register) -> bool:
    """Whether works teach each other; they do until somebody switches it off."""
    found = settings(register, SWITCH)
    return bool(found[-1].value) if found else True


def switch(register: Register, on: bool, *, by: str, at_utc: datetime) -> None:
    """Let works teach each other, or not."""
    put_setting(register, SiteSetting(SWITCH, on, at_utc, by))


def latest(register: Register) -> Knowledge | None:
    """Return the newest version, whether it is in use or not."""
    found = settings(register, KNOWLEDGE)
    if not found:
        return None
    one = found[-1]
    return Knowledge(
        int(one.value["version"]), one.from_utc, one.by, _summaries(one.value["summaries"])
    )


def keep(
    register: Register, summaries: Sequence[ClassSummary], *, by: str, at_utc: datetime
) -> Knowledge:
    """Keep a new version; one that says the same as the newest is not kept again."""
    before = latest(register)
    if before is not None and before.summaries == tuple(summaries):
        return before
    version = 1 if before is None else before.version + 1
    value = {"version": version, "summaries": [asdict(one) for one in summaries]}
    put_setting(register, SiteSetting(KNOWLEDGE, value, at_utc, by))
    return Knowledge(version, at_utc, by, tuple(summaries))


def prior_of(register: Register) -> Prior | None:
    """Return another museum's summaries, where some were read."""
    found = settings(register, PRIOR)
    return prior_from(found[-1].value) if found and found[-1].value else None


def put_prior(register: Register, prior: Prior | None, *, by: str, at_utc: datetime) -> None:
    """Take another museum's summaries as a prior; None: begin with the tables again."""
    value = {} if prior is None else as_values(prior)
    put_setting(register, SiteSetting(PRIOR, value, at_utc, by))


def as_values(prior: Prior) -> dict[str, Any]:
    """Return summaries as they stand in a file: no work is named in it."""
    plain = [{**asdict(one), "works": []} for one in prior.summaries]
    return {"name": prior.name, "date": prior.date, "summaries": plain}


def prior_from(values: Mapping[str, Any]) -> Prior:
    """Return summaries from what stands in a file."""
    return Prior(str(values["name"]), str(values["date"]), _summaries(values["summaries"]))


def lent(register: Register) -> dict[str, tuple[Borrowed, ...]]:
    """Return by number what each class lends now; nothing where it is switched off."""
    known = latest(register)
    if known is None or not teaching(register):
        return {}
    found: dict[str, tuple[Borrowed, ...]] = {}
    for one in known.summaries:
        origin = f"version {known.version} of {known.made_utc.date().isoformat()}"
        if one.prior:
            origin += f", which began with what {one.prior} knows"
        borrowed = Borrowed(one.value, one.low, one.high, one.kind, one.works, origin)
        found[one.name] = (*found.get(one.name, ()), borrowed)
    return found


def _summaries(values: Sequence[Mapping[str, Any]]) -> tuple[ClassSummary, ...]:
    return tuple(
        ClassSummary(
            name=str(one["name"]),
            kind=tuple((str(fact), str(value)) for fact, value in one["kind"]),
            value=float(one["value"]),
            low=float(one["low"]),
            high=float(one["high"]),
            works=tuple(str(work) for work in one["works"]),
            prior=str(one.get("prior", "")),
        )
        for one in values
    )

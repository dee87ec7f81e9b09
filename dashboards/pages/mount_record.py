"""The mount and frame record of a work as rows of words, the unknown said as such."""

from dataclasses import dataclass

from analysis.records import REGISTER
from analysis.works import NEEDS_CLOSING_RH, Mount, Work
from dashboards.text import wording
from dashboards.text.messages import _

UNKNOWN = "not known"
FIELDS = {
    name: one
    for file in ("hangings.csv", "frames.csv", "mounts.csv", "works.csv")
    for name, one in REGISTER[file].fields.items()
}


@dataclass(frozen=True)
class Fact:
    """One line of the record; `widens` says what the missing fact costs."""

    label: str
    words: str
    known: bool = True
    widens: str = ""


def mount_record(work: Work, zone: str) -> list[Fact]:
    """Return what is known of the mount and the frame, in the order of the build."""
    return [*_sheet(work), *_mount(work, zone), *_frame(work, zone)]


def unknown_facts(work: Work, zone: str) -> list[Fact]:
    """Return only the facts nobody has written down, with what each would mend."""
    return [fact for fact in mount_record(work, zone) if not fact.known]


def _number(work: Work, name: str, label: str, decimals: int = 0, stated_as: str = "") -> Fact:
    """Return a number of the record, a range of it, or that nobody knows it."""
    one, value = FIELDS[name], getattr(work, name)
    stated = work.overrides.get(stated_as or name)
    if value is not None:
        return Fact(label, wording.with_unit(value, one.unit, decimals))
    if stated is not None:
        low, high = wording.number(stated.low, decimals), wording.number(stated.high, decimals)
        return Fact(
            label, _("about {low} to {high} {unit}", low=low, high=high, unit=one.unit).rstrip()
        )
    return Fact(label, UNKNOWN, False, one.without)


def _kind(work: Work, name: str, label: str) -> Fact:
    """Return which kind a part of the build is, or that nobody knows it."""
    one = FIELDS[name]
    if name in work.unknown:
        return Fact(label, UNKNOWN, False, one.without)
    value = str(getattr(work, name))
    return Fact(label, dict(one.choices).get(value, value))


def _sheet(work: Work) -> list[Fact]:
    size = f"{wording.number(work.width_mm)} × {wording.number(work.height_mm)} mm"
    known = work.grain.value != "unknown"
    without = "" if known else FIELDS["grain"].without
    return [
        Fact("Print", _("{size}, width × height", size=size)),
        _kind(work, "paper", "Paper"),
        _kind(work, "finish", "Surface"),
        Fact("Grain", work.grain.value if known else UNKNOWN, known, without),
    ]


def _mount(work: Work, zone: str) -> list[Fact]:
    held = _kind(work, "mount", "Held")
    if work.mount is not Mount.TENSION_HELD:
        return [held]
    mounted = (
        Fact("Mounted", UNKNOWN, False, FIELDS["mounted_utc"].without)
        if work.mounted_utc is None
        else Fact("Mounted", wording.day(work.mounted_utc, zone))
    )
    return [
        held,
        _kind(work, "panel", "Panel"),
        _kind(work, "adhesive", "Hinges"),
        _number(work, "hinge_free_length_mm", "Free hinge length"),
        mounted,
        _number(work, "mounted_rh_pct", "RH at mounting"),
        _number(work, "mounted_temp_c", "Temperature at mounting", 1),
    ]


def _frame(work: Work, zone: str) -> list[Fact]:
    facts = [
        _kind(work, "frame", "Frame"),
        _kind(work, "glazing", "Glazing"),
        _number(work, "spacer_mm", "Spacer", stated_as="gap_mm"),
        _kind(work, "wall", "Wall"),
    ]
    if work.frame in NEEDS_CLOSING_RH:
        facts.append(_number(work, "closing_rh_pct", "RH at closing"))
        if work.closed_utc is not None:
            facts.append(Fact("Closed", wording.day(work.closed_utc, zone)))
    if work.conditioned:
        facts.append(Fact("In the frame", "desiccant, gel or a unit that conditions the air"))
    if work.on_loan:
        facts.append(Fact("Loan", "on loan; the lender's terms apply"))
    if work.sun_or_spot:
        facts.append(Fact("Light", "sun or a spot lamp reaches it"))
    return facts

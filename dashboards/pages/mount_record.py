"""The mount and frame record of a work as rows of words, the unknown said as such."""

from dataclasses import dataclass

from analysis.works import FRAME_WORDS, NEEDS_CLOSING_RH, Mount, Work
from dashboards.text import wording

UNKNOWN = "not known"


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


def _fact(label: str, value: float | None, unit: str, widens: str, decimals: int = 0) -> Fact:
    if value is None:
        return Fact(label, UNKNOWN, False, widens)
    return Fact(label, wording.with_unit(value, unit, decimals))


def _sheet(work: Work) -> list[Fact]:
    size = f"{wording.number(work.width_mm)} × {wording.number(work.height_mm)} mm"
    grain_known = work.grain.value != "unknown"
    return [
        Fact("Print", f"{size}, width × height"),
        Fact("Paper", f"{work.paper.value}, {work.finish.value}"),
        Fact(
            "Grain",
            work.grain.value if grain_known else UNKNOWN,
            grain_known,
            "" if grain_known else "half of the draws assume each direction",
        ),
    ]


def _mount(work: Work, zone: str) -> list[Fact]:
    held = Fact("Held", work.mount.value)
    if work.mount is not Mount.TENSION_HELD:
        return [held]
    mounted = (
        Fact("Mounted", UNKNOWN, False, "age of the tension is guessed")
        if work.mounted_utc is None
        else Fact("Mounted", wording.day(work.mounted_utc, zone))
    )
    return [
        held,
        Fact("Panel", work.panel.value),
        Fact("Hinges", work.adhesive.value),
        _fact("Free hinge length", work.hinge_free_length_mm, "mm", "the hinges' give is guessed"),
        mounted,
        _fact("RH at mounting", work.mounted_rh_pct, "%RH", "without it no state can be told"),
        _fact("Temperature at mounting", work.mounted_temp_c, "°C", "a usual value is taken", 1),
    ]


def _frame(work: Work, zone: str) -> list[Fact]:
    facts = [
        Fact("Frame", FRAME_WORDS[work.frame]),
        Fact("Glazing", work.glazing.value),
        _fact("Spacer", work.spacer_mm, "mm", "clearance to the glazing cannot be told"),
        Fact("Wall", work.wall.value),
    ]
    if work.frame in NEEDS_CLOSING_RH:
        facts.append(
            _fact("RH at closing", work.closing_rh_pct, "%RH", "a sealed frame keeps that RH")
        )
        if work.closed_utc is not None:
            facts.append(Fact("Closed", wording.day(work.closed_utc, zone)))
    if work.conditioned:
        facts.append(Fact("In the frame", "desiccant, gel or a unit that conditions the air"))
    if work.on_loan:
        facts.append(Fact("Loan", "on loan; the lender's terms apply"))
    if work.sun_or_spot:
        facts.append(Fact("Light", "sun or a spot lamp reaches it"))
    return facts

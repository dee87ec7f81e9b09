"""What is known of a framed work: the words of the trade, typed, with the unknown allowed."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum


class Paper(StrEnum):
    """Paper of the print."""

    FIBRE_BASE = "fibre base"
    RESIN_COATED = "resin-coated"
    INKJET_RESIN_COATED = "inkjet, resin-coated"
    INKJET_COTTON = "inkjet, cotton"
    POLYESTER = "polyester"
    PLAIN = "plain paper"


class Grain(StrEnum):
    """Direction of the grain (machine direction) as the work hangs."""

    HORIZONTAL = "horizontal"
    VERTICAL = "vertical"
    UNKNOWN = "unknown"


class Finish(StrEnum):
    """Surface of the print; decides at which slope a wave is seen."""

    GLOSSY = "glossy"
    SEMI_MATT = "semi-matt"
    MATT = "matt"


class Mount(StrEnum):
    """How the print is held."""

    TENSION_HELD = "tension-held"
    BONDED = "bonded overall"
    CORNER_HUNG = "hung by corners or top edge"
    WINDOW = "window mount"


class Adhesive(StrEnum):
    """Family of the adhesive that holds the hinges; `PASTED`: one of two, not recorded which."""

    PASTED = "paste or cellulose ether"
    PRESSURE_SENSITIVE = "pressure-sensitive or tacky acrylic"
    STARCH_PASTE = "starch paste"
    CELLULOSE_ETHER = "cellulose ether"


# Adhesive → group of ``published/hinges.toml``.
ADHESIVE_ROWS: Mapping[Adhesive, str] = {
    Adhesive.PASTED: "pasted",
    Adhesive.PRESSURE_SENSITIVE: "pressure_sensitive",
    Adhesive.STARCH_PASTE: "starch_paste",
    Adhesive.CELLULOSE_ETHER: "cellulose_ether",
}


class Panel(StrEnum):
    """Panel behind the print."""

    PAPER_HONEYCOMB = "paper-faced honeycomb"
    METAL_FACED = "metal-faced honeycomb"
    MUSEUM_BOARD = "museum board"


class FrameBuild(StrEnum):
    """Generic frame builds, from open to sealed; pages say `FRAME_WORDS`, not the letter."""

    A = "A"
    B = "B"
    C = "C"
    D = "D"
    E = "E"
    F = "F"


FRAME_WORDS: Mapping[FrameBuild, str] = {
    FrameBuild.A: "unglazed, face in the room air",
    FrameBuild.B: "unglazed, absorbent board close behind",
    FrameBuild.C: "glazed, board back, not taped",
    FrameBuild.D: "glazed, board back, paper-taped",
    FrameBuild.E: "glazed, low-permeance back, film-taped",
    FrameBuild.F: "sealed package with barrier film",
}
GLAZED = (FrameBuild.C, FrameBuild.D, FrameBuild.E, FrameBuild.F)
NEEDS_CLOSING_RH = (FrameBuild.E, FrameBuild.F)


class Glazing(StrEnum):
    """Glazing in front."""

    NONE = "none"
    GLASS = "glass"
    ACRYLIC = "acrylic"


class Wall(StrEnum):
    """What the frame hangs on."""

    INSIDE = "inside wall"
    OUTSIDE_INSULATED = "outside wall, insulated"
    OUTSIDE_MASONRY = "outside wall, solid masonry"


@dataclass(frozen=True)
class Override:
    """A number a person measured or insists on, in place of the table's."""

    value: float
    low: float
    high: float
    origin: str


@dataclass(frozen=True)
class Borrowed:
    """A range that other works of a class lend: it takes the place of the table's, no more.

    Low and high lie two deviations of the logarithm from the middle. ``kind`` holds the facts that
    make the class, and what they are there; where the work differs in one, nothing is lent.
    """

    value: float
    low: float
    high: float
    kind: tuple[tuple[str, str], ...]
    works: tuple[str, ...]
    origin: str


@dataclass(frozen=True)
class Work:
    """One work with its mount and its frame, as the register knows it.

    Unknown facts become wider ranges: a number is None, a kind is named in ``unknown``. A range
    that the record states for a number (mounted "at about 40 to 50 %RH") stands in ``overrides``
    under the number's own name, for the spacer under ``gap_mm``.

    Parameters
    ----------
    unknown : frozenset of str
        Names among `KINDS` that nobody knows. The field itself then holds the usual kind; each of
        `KINDS` may be true, and nothing may be told of it as known.
    mounting_no, framing_no : int
        Which mounting and which framing of the print this is, from 0: what is not known of one of
        them is drawn anew for the next.
    year_before_rh_pct : tuple of float, optional
        Least, usual and greatest humidity of its room in the year before it was mounted, where
        that was measured: what stands for a humidity at mounting that nobody recorded [%RH].
    hinge_free_length_mm : float, optional
        From the edge of the print to where the strip is fixed: what can give between the bonds.
    conditioned : bool
        Whether the frame holds desiccant, conditioned gel or an active unit, of whatever amount.
    overrides : mapping of str to Override
        Keyed by the parameter's name in `analysis.simulation.priors`, for example ``half_time_h``,
        ``beta_cd``, ``prestrain``.
    borrowed : mapping of str to Borrowed
        By the same names: what was measured of other works of its class, in place of the table.
    """

    work_id: str
    title: str
    width_mm: float
    height_mm: float
    paper: Paper
    finish: Finish
    mount: Mount = Mount.TENSION_HELD
    grain: Grain = Grain.UNKNOWN
    panel: Panel = Panel.PAPER_HONEYCOMB
    adhesive: Adhesive = Adhesive.PASTED
    hinge_free_length_mm: float | None = None
    hinge_coverage: float | None = None
    mounted_utc: datetime | None = None
    mounted_rh_pct: float | None = None
    mounted_temp_c: float | None = None
    year_before_rh_pct: tuple[float, float, float] | None = None
    frame: FrameBuild = FrameBuild.C
    closed_utc: datetime | None = None
    closing_rh_pct: float | None = None
    spacer_mm: float | None = None
    glazing: Glazing = Glazing.ACRYLIC
    conditioned: bool = False
    wall: Wall = Wall.INSIDE
    on_loan: bool = False
    sun_or_spot: bool = False
    mounting_no: int = 0
    framing_no: int = 0
    unknown: frozenset[str] = frozenset()
    overrides: Mapping[str, Override] = field(default_factory=dict)
    borrowed: Mapping[str, Borrowed] = field(default_factory=dict)

    def lent(self, name: str) -> Borrowed | None:
        """Return what its class lends for a number, where the work still is of that class."""
        found = self.borrowed.get(name)
        if found is None or name in self.overrides:
            return None
        alike = all(getattr(self, fact) == kind for fact, kind in found.kind)
        known = all(fact not in self.unknown for fact, _ in found.kind)
        return found if alike and known else None


# Facts of a kind that may be unknown, with the kinds that may then be true; the first is usual.
KINDS: Mapping[str, tuple[StrEnum, ...]] = {
    "paper": (Paper.FIBRE_BASE, *(one for one in Paper if one is not Paper.FIBRE_BASE)),
    "finish": tuple(Finish),
    "mount": tuple(Mount),
    "panel": tuple(Panel),
    "adhesive": tuple(Adhesive),
    "frame": (FrameBuild.C, *(one for one in FrameBuild if one is not FrameBuild.C)),
    "glazing": (Glazing.ACRYLIC, Glazing.GLASS, Glazing.NONE),
    "wall": tuple(Wall),
}

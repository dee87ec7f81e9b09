"""Hinges round the four edges of a sheet: how many, where, taped in which order."""

import math
from dataclasses import dataclass

from analysis.errors import OutOfRangeError
from analysis.parameters import parameter

CLOSEST_MM = 1.0  # hinges that begin closer together than this are a mistyped number


def require_positive_mm(read: str, where: str, value_mm: float) -> None:
    """Raise unless a length is a finite number above zero.

    Raises
    ------
    OutOfRangeError
        If ``value_mm`` is zero, negative or no number.
    """
    if not (math.isfinite(value_mm) and value_mm > 0.0):
        raise OutOfRangeError(
            read=read,
            where=where,
            found=f"{value_mm:g} mm",
            expected="a length above 0 mm",
            action="Measure it again and correct the register or the option.",
        )


@dataclass(frozen=True)
class HingePlan:
    """Where the hinges sit.

    ``along_width_mm`` and ``along_height_mm`` hold, for one side each, the distance from the
    corner to the near edge of every hinge; the opposite side is the same.
    """

    width_mm: float
    height_mm: float
    hinge_mm: float
    pitch_mm: float
    along_width_mm: tuple[float, ...]
    along_height_mm: tuple[float, ...]

    @property
    def count(self) -> int:
        """Hinges round all four edges."""
        return 2 * (len(self.along_width_mm) + len(self.along_height_mm))

    @property
    def overlap_mm(self) -> tuple[float, float]:
        """Overlap of neighbours along width and height; negative: a gap."""
        sides = (self.along_width_mm, self.along_height_mm)
        steps = [at[1] - at[0] if len(at) > 1 else self.hinge_mm for at in sides]
        return self.hinge_mm - steps[0], self.hinge_mm - steps[1]

    @property
    def coverage(self) -> float:
        """Share of the edge that is hinged, at most 1."""
        sides = (self.width_mm, self.along_width_mm), (self.height_mm, self.along_height_mm)
        held = sum(min(len(at) * self.hinge_mm, side) for side, at in sides)
        return held / (self.width_mm + self.height_mm)


def positions_mm(side_mm: float, hinge_mm: float, pitch_mm: float) -> tuple[float, ...]:
    """Return where hinges start along one side, evenly, the first and last flush with the corners.

    The distance between starts is at most ``pitch_mm``; less where the side is no whole number of
    pitches, so that neighbours overlap a little rather than leave a gap.

    Examples
    --------
    >>> positions_mm(200.0, 50.0, 50.0)
    (0.0, 50.0, 100.0, 150.0)
    >>> positions_mm(190.0, 50.0, 50.0)[1]
    46.66...
    """
    steps = math.ceil(round((side_mm - hinge_mm) / pitch_mm, 9))
    if steps == 0:
        return (0.0,)
    return tuple(i * (side_mm - hinge_mm) / steps for i in range(steps + 1))


def hinge_plan(
    width_mm: float,
    height_mm: float,
    *,
    hinge_mm: float | None = None,
    pitch_mm: float | None = None,
) -> HingePlan:
    """Return the hinges round a sheet.

    Parameters
    ----------
    width_mm, height_mm : float
        The sheet [mm].
    hinge_mm : float, optional
        Side of the square hinge [mm]; default from ``mounting.toml``.
    pitch_mm : float, optional
        Distance from one hinge to the next [mm]. Equal to ``hinge_mm``: side by side; smaller:
        overlapping; larger: with gaps.

    Raises
    ------
    OutOfRangeError
        If a length is not above zero, or the hinge is longer than a side.

    Examples
    --------
    >>> hinge_plan(1500.0, 1000.0).count
    100
    """
    hinge = parameter("mounting", "hinge", "size_mm").value if hinge_mm is None else hinge_mm
    pitch = parameter("mounting", "hinge", "pitch_mm").value if pitch_mm is None else pitch_mm
    lengths = {"width": width_mm, "height": height_mm, "hinge": hinge, "pitch": pitch}
    for name, length in lengths.items():
        require_positive_mm("hinge plan", name, length)
    if pitch < CLOSEST_MM:
        raise OutOfRangeError(
            read="hinge plan",
            where="pitch",
            found=f"{pitch:g} mm from one hinge to the next",
            expected=f"{CLOSEST_MM:g} mm or more",
            action="State how far one hinge begins after the last, in millimetres.",
        )
    if hinge > min(width_mm, height_mm):
        raise OutOfRangeError(
            read="hinge plan",
            where="hinge",
            found=f"a hinge of {hinge:g} mm on a side of {min(width_mm, height_mm):g} mm",
            expected="a hinge no longer than the shortest side",
            action="Choose smaller hinges or correct the size of the sheet.",
        )
    return HingePlan(
        width_mm=width_mm,
        height_mm=height_mm,
        hinge_mm=hinge,
        pitch_mm=pitch,
        along_width_mm=positions_mm(width_mm, hinge, pitch),
        along_height_mm=positions_mm(height_mm, hinge, pitch),
    )


def taping_order(count: int) -> tuple[int, ...]:
    """Return the order in which the hinges of one side are taped: middle first, corners last.

    Examples
    --------
    >>> taping_order(5)
    (2, 3, 1, 4, 0)
    """
    middle = (count - 1) / 2
    return tuple(sorted(range(count), key=lambda i: (abs(i - middle), -i)))

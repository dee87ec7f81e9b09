"""Measures of the week chart, for a wall or desk and for a phone [mm, points]."""

from dataclasses import dataclass

from dashboards.charts.style import PHONE_MM, WIDE_A4_MM


@dataclass(frozen=True)
class Layout:
    """Where things stand on the sheet."""

    width: float
    left: float
    right: float
    edge: float
    air: float
    temperature: float
    strip: float
    strip_pitch: float
    heading: float
    text: float
    small: float
    line: float
    narrow: bool

    @property
    def plot(self) -> float:
        """Return the width of the week [mm]."""
        return self.width - self.left - self.right

    @property
    def inside(self) -> float:
        """Return the width between the outer edges [mm]."""
        return self.width - 2 * self.edge


WIDE = Layout(
    width=WIDE_A4_MM,
    left=51.0,
    right=82.0,
    edge=7.0,
    air=34.0,
    temperature=16.0,
    strip=3.2,
    strip_pitch=4.7,
    heading=13.0,
    text=9.0,
    small=8.0,
    line=4.0,
    narrow=False,
)
PHONE = Layout(
    width=PHONE_MM,
    left=9.5,
    right=13.0,
    edge=2.0,
    air=50.0,
    temperature=20.0,
    strip=3.4,
    strip_pitch=11.0,
    heading=13.0,
    text=9.5,
    small=8.0,
    line=4.6,
    narrow=True,
)

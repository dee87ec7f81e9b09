"""Of a line with more points than a screen has columns: those that are seen, its extremes."""

import numpy as np
import numpy.typing as npt
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from analysis.results import Floats

COLUMNS_PER_MM = (
    4.0  # an A4 page laid on its side is then as wide as a desk's screen, 1,190 columns
)
MM_PER_INCH = 25.4
NO_MARKER = ("None", "", " ", None)


def lighten(figure: Figure) -> None:
    """Leave out of a figure's lines the points that no screen shows."""
    for axes in figure.axes:
        for line in axes.lines:
            _lighten(line, figure.dpi / MM_PER_INCH / COLUMNS_PER_MM)


def _lighten(line: Line2D, column_px: float) -> None:
    points = np.asarray(line.get_xydata(), dtype=float)
    plain = line.get_drawstyle() == "default" and line.get_marker() in NO_MARKER
    if len(points) < 3 or not plain:
        return
    across = line.get_transform().transform(np.nan_to_num(points))[:, 0]
    if (np.diff(across) < 0.0).any():
        return
    kept = seen_points(np.floor(across / column_px + 1e-6), points[:, 1])
    if kept.size < len(points):
        line.set_data(points[kept, 0], points[kept, 1])


def seen_points(columns: Floats, values: Floats) -> npt.NDArray[np.intp]:
    """Return which points of a line are seen.

    Parameters
    ----------
    columns : ndarray, shape (n,)
        The column of the screen that each point falls into, ascending.
    values : ndarray, shape (n,)
        The values, NaN where the line is broken.

    Returns
    -------
    ndarray of int
        Ascending: of each unbroken piece its first and last point, and within each column its
        least and its greatest; of each break one point.

    Examples
    --------
    >>> seen_points(np.array([0.0, 0, 0, 0, 1]), np.array([4.0, 5, 3, 4, 4])).tolist()
    [0, 1, 2, 4]
    """
    known = np.isfinite(values)
    turns = np.concatenate([[True], known[1:] != known[:-1]])  # a piece or a break begins here
    begins = turns | np.concatenate([[True], np.diff(columns) != 0.0])
    group = np.cumsum(begins) - 1
    order = np.lexsort((np.where(known, values, 0.0), group))
    firsts = np.flatnonzero(begins)
    lasts = np.append(firsts[1:], values.size) - 1
    of_piece = np.append(np.flatnonzero(turns)[1:], values.size) - 1  # the last points of pieces
    kept = np.zeros(values.size, dtype=bool)
    kept[order[firsts]] = kept[order[lasts]] = True
    kept &= known
    kept[of_piece] = True
    kept[turns] = True
    return np.flatnonzero(kept)

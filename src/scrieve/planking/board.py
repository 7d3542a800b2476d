"""The board a plank needs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.spatial import ConvexHull, QhullError

from scrieve.errors import BadPlank

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Board:
    """The board a plank is got out of; lengths in mm.

    `width_mm` is the least width of clear wood the finished plank fits in, margins included; `crown_mm` how far the
    plank's middle line bows from the straight line through its ends (above zero where it bows towards the upper
    edge); `angle_rad` the slope of the board's long side against the plank's datum line. `length_mm` includes
    trimming, `thickness_mm` hollow, rounding and planing. `plank_length_mm` and `plank_width_mm` are the
    finished plank, its scarfs with it: length along the board, and greatest width square to its own middle line.
    """

    length_mm: float
    width_mm: float
    thickness_mm: float
    crown_mm: float
    angle_rad: float
    plank_length_mm: float
    plank_width_mm: float


def least_strip(outline: ArrayLike) -> tuple[float, float, float]:
    """Least width between two parallel lines that hold an outline, the length along them, and their slope.

    Parameters
    ----------
    outline : array_like, shape (n, 2)
        Points of the outline, open or closed [mm].

    Returns
    -------
    width, length, angle : float
        [mm], [mm] and [rad] within ±π/2.

    Raises
    ------
    BadPlank
        The points enclose nothing.

    Notes
    -----
    Between two slopes at which the strip touches the same two corners, its width is their distance times a cosine,
    which is least at one end of the range: so the least strip lies along a side of the convex hull, and each is tried.

    Examples
    --------
    >>> [round(value, 9) for value in least_strip([(0, 0), (4, 3), (1, 7), (-3, 4)])[:2]]
    [5.0, 5.0]
    """
    points = np.asarray(outline, dtype=float)
    try:
        hull = points[ConvexHull(points).vertices]
    except (QhullError, ValueError) as error:
        raise BadPlank("the plank's outline encloses nothing; are its edges one on the other?") from error
    sides = np.roll(hull, -1, axis=0) - hull
    angles = np.arctan2(sides[:, 1], sides[:, 0])
    lines = np.column_stack([np.cos(angles), np.sin(angles)])
    square = np.column_stack([-lines[:, 1], lines[:, 0]])
    widths = np.ptp(hull @ square.T, axis=0)
    least = int(np.argmin(widths))
    length = float(np.ptp(hull @ lines[least]))
    angle = (angles[least] + np.pi / 2) % np.pi - np.pi / 2
    return float(widths[least]), length, float(angle)


def middle_line(lower: Array, upper: Array) -> Array:
    """Points halfway between two edges sampled alike, (n, 2)."""
    return np.asarray((lower + upper) / 2)


def crown(line: Array) -> float:
    """Greatest distance of a line from its chord, above zero to the left of its run [mm]."""
    chord = line[-1] - line[0]
    length = float(np.hypot(*chord))
    if length == 0:
        raise BadPlank("the plank's ends lie one on the other; its middle line has no chord.")
    off = (chord[0] * (line[:, 1] - line[0, 1]) - chord[1] * (line[:, 0] - line[0, 0])) / length
    # The bow between two samples: the top of the parabola through the greatest and its neighbours.
    top = int(np.argmax(np.abs(off)))
    if 0 < top < len(off) - 1:
        before, at, after = off[top - 1 : top + 2]
        bend = before - 2 * at + after
        if bend != 0:
            return float(at - (after - before) ** 2 / (8 * bend))
    return float(off[top])


def board_for(
    lower: Array,
    upper: Array,
    *,
    thickness_mm: float,
    ends_mm: float = 0.0,
    margin_mm: float = 0.0,
    standing_mm: float = 0.0,
) -> Board:
    """The board for a plank: least strip that holds its outline, with margins.

    Parameters
    ----------
    lower, upper : ndarray (n, 2)
        The edges of the finished plank, sampled alike [mm].
    thickness_mm : float
        Thickness of stock.
    ends_mm : float
        Trimming and bending over both ends, together.
    margin_mm : float
        Kept clear of wane on each edge.
    standing_mm : float
        Wood outside the drawn face that standing bevels need, both edges together.
    """
    width, length, angle = least_strip(np.concatenate([lower, upper]))
    middle = middle_line(lower, upper)
    run = np.gradient(middle, axis=0)
    run /= np.linalg.norm(run, axis=1, keepdims=True)
    over = upper - lower
    plank_width = float(np.max(np.abs(run[:, 0] * over[:, 1] - run[:, 1] * over[:, 0])))
    return Board(
        length_mm=length + ends_mm,
        width_mm=width + 2 * margin_mm + standing_mm,
        thickness_mm=thickness_mm,
        crown_mm=crown(middle),
        angle_rad=angle,
        plank_length_mm=length,
        plank_width_mm=plank_width,
    )


def scarf_length(thickness_mm: float, slope: float, nib_mm: float = 0.0) -> float:
    """Length of a scarf: slope × thickness, less what is squared off as a nib at both of its ends [mm].

    Examples
    --------
    >>> scarf_length(25, 12), scarf_length(6.35, 8)
    (300.0, 50.8)
    """
    return slope * (thickness_mm - 2 * nib_mm)

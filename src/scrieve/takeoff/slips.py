"""Slips: a mark that is out by about an inch, a foot or a round hundred is likely misread, and by how much."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from scrieve.errors import BadMarks, above_zero
from scrieve.units import MM_PER_FOOT, MM_PER_INCH

Array = NDArray[np.float64]
Of = Literal["height", "half-breadth", "reading"]

#: A slip is named when the rest of the miss is within so many standard deviations ...
WITHIN_SD = 2.5
#: ... and when a miss of any size at all would fall so near to some slip of that kind in less than this share of cases.
MOST_BY_CHANCE = 0.5
#: A line that stands more nearly along the reading than this shows too little of its slip.
_LEAST_SHARE = 0.35

#: Slips of the hand that happen at the tape and in the book: how far [mm], and in the builder's words.
SLIPS = ((304.8, "a foot"), (609.6, "two feet"), (100.0, "100 mm"), (200.0, "200 mm"), (300.0, "300 mm"),
         (25.4, "an inch"), (50.8, "two inches"), (10.0, "10 mm"), (20.0, "20 mm"))  # fmt: skip

_FEET, _HUNDREDS = 5, 10
#: (size, the distance to the next of its kind, words)
_SIZES: tuple[tuple[float, float, str], ...] = (
    (MM_PER_INCH, MM_PER_INCH, "1 inch"),
    *((n * MM_PER_FOOT, MM_PER_FOOT, "1 foot" if n == 1 else f"{n} feet") for n in range(1, _FEET + 1)),
    *((n * 100.0, 100.0, f"{n * 100} mm") for n in range(1, _HUNDREDS + 1)),
)
_SIGNED: Array = np.array([sign * size for size, _, _ in _SIZES for sign in (1, -1)])
_NEXT: Array = np.array([space for _, space, _ in _SIZES for _ in (1, -1)])
_WORDS = [words for _, _, words in _SIZES for _ in (1, -1)]


@dataclass(frozen=True, slots=True)
class Slip:
    """The slip that would explain a miss.

    `of` says which reading; `size_mm` is what it is too large by (below zero: too small by); `words` names it, and any
    other that fits too; `left_sd` is the rest of the miss, in standard deviations.
    """

    of: Of
    size_mm: float
    words: str
    left_sd: float

    @property
    def text(self) -> str:
        """The slip in words, to be asked of the builder."""
        return f"{self.of} too {'large' if self.size_mm > 0 else 'small'} by {self.words}?"


def slip(miss_mm: ArrayLike, sd_mm: float) -> Slip | None:
    """Name the likely slip of a mark by its miss.

    Parameters
    ----------
    miss_mm : float or array_like (2,)
        A reading less what it should be; or mark less the nearest point of the fair line, half-breadth and height [mm].
    sd_mm : float
        Standard deviation of the miss without a slip: of mark and line together, square to the line [mm].

    Returns
    -------
    Slip or None
        A slip E of one reading shows square to the line as E·n, n being that reading's share of the normal, where the
        line is straight for as far as the slip reaches; for a bent line see `slip_to_line`. Of slips that fit, the
        nearest; None where none fits, or where so loose a measure would find one in anything.

    Raises
    ------
    BadMarks
        The standard deviation is not above zero, or the miss is neither one number nor two.

    Examples
    --------
    >>> slip([24.6, 0.5], 1.5).text, slip([-20.0, -303.0], 2.0).text, slip([13.0, 0.0], 1.5)
    ('half-breadth too large by 1 inch?', 'height too small by 1 foot or 300 mm?', None)
    """
    miss = np.asarray(miss_mm, dtype=float)
    sd = float(above_zero("standard deviation", sd_mm, "mm", BadMarks))
    if miss.shape not in ((), (2,)) or not np.all(np.isfinite(miss)):
        raise BadMarks(f"miss of the shape {miss.shape}; give one reading's miss, or half-breadth and height.")
    if miss.shape == ():
        return _best({"reading": (float(miss) - _SIGNED, np.ones(len(_SIGNED)))}, float(np.abs(miss)), sd)
    length = float(np.hypot(*miss))
    share = miss / max(length, 1e-300)
    both: dict[Of, Array] = {"half-breadth": share[0], "height": share[1]}
    fits = {of: (length - _SIGNED * n, np.full(len(_SIGNED), np.abs(n))) for of, n in both.items()}
    return _best(fits, length, sd)


def slip_to_line(point: ArrayLike, line: ArrayLike, sd_mm: float) -> Slip | None:
    """Name the slip that, taken back, brings a mark on to its fair line.

    Parameters
    ----------
    point : array_like (2,)
        The mark: half-breadth and height [mm].
    line : array_like (n, 2)
        The fair line of its frame, close points from heel to head, n ≥ 2 [mm].
    sd_mm : float
        As in `slip`.

    Returns
    -------
    Slip or None
        As `slip`, for a line however bent.

    Examples
    --------
    >>> slip_to_line([1000.0, 400.0], [[1025.0, 0.0], [1025.4, 1000.0]], 1.0).text
    'half-breadth too small by 1 inch?'
    """
    at, way = np.asarray(point, dtype=float), np.asarray(line, dtype=float)
    sd = float(above_zero("standard deviation", sd_mm, "mm", BadMarks))
    if at.shape != (2,) or way.ndim != 2 or way.shape[1:] != (2,) or len(way) < 2:
        raise BadMarks("a slip is looked for of one point, off a line of two points or more.")
    axes: dict[Of, int] = {"half-breadth": 0, "height": 1}
    fits = {}
    for of, axis in axes.items():
        rest, normal = _off(at - _SIGNED[:, None] * np.eye(2)[axis], way)
        fits[of] = rest, np.abs(normal[:, axis])
    return _best(fits, float(_off(at[None], way)[0][0]), sd)


def _best(fits: Mapping[Of, tuple[Array, Array]], miss: float, sd: float) -> Slip | None:
    """Return the slip that leaves least, of those that leave little enough and are seen clearly enough."""
    if miss <= WITHIN_SD * sd:
        return None
    found: list[tuple[float, Of, int]] = []
    for of, (rests, shares) in fits.items():
        clear = (shares > _LEAST_SHARE) & (2 * WITHIN_SD * sd < MOST_BY_CHANCE * _NEXT * shares)
        found += [(float(np.abs(rests[i])) / sd, of, int(i)) for i in np.flatnonzero(clear)]
    good = sorted(one for one in found if one[0] <= WITHIN_SD)
    if not good:
        return None
    left, of, which = good[0]
    words = [_WORDS[i] for _, other, i in good if other == of and (_SIGNED[i] > 0) == (_SIGNED[which] > 0)]
    return Slip(of, float(_SIGNED[which]), " or ".join(words), left)


def _off(points: Array, line: Array) -> tuple[Array, Array]:
    """Distance (m,) of each point from the line, and the line's unit normal (m, 2) where it is nearest."""
    start, way = line[:-1], np.diff(line, axis=0)
    square = np.maximum(np.sum(way**2, axis=1), 1e-12)
    along = np.clip(np.sum((points[:, None] - start) * way, axis=2) / square, 0, 1)
    apart = np.linalg.norm(points[:, None] - start - along[..., None] * way, axis=2)
    nearest = np.argmin(apart, axis=1)
    tangent = way[nearest] / np.sqrt(square[nearest])[:, None]
    return apart[np.arange(len(points)), nearest], np.column_stack([tangent[:, 1], -tangent[:, 0]])

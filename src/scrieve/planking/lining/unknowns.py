"""Which seam girths are free: some are fixed by kept seams, some hang on a neighbour by a set width or a nib."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array

from scrieve.errors import BadPlank

Array = NDArray[np.float64]
Index = NDArray[np.intp]

#: Set widths may miss a frame's girth by this much before they are refused [mm].
_SLACK_MM = 0.5


@dataclass(frozen=True, slots=True, eq=False)
class Unknowns:
    """Girths g (n + 1, k) of all seams as g = z[index] + offset; `index` is −1 where a girth is fixed.

    Unknowns are numbered frame by frame, so that only near ones couple.
    """

    index: Index
    offset: Array
    count: int

    def spread(self, z: Array) -> Array:
        """Girths (n + 1, k) of the unknowns z."""
        return np.asarray(np.where(self.index < 0, 0.0, z[self.index]) + self.offset)

    def gather(self, girth: Array) -> Array:
        """Unknowns nearest to given girths (n + 1, k): the mean of what hangs together."""
        free = self.index >= 0
        total = np.bincount(self.index[free], (girth - self.offset)[free], minlength=self.count)
        return np.asarray(total / np.bincount(self.index[free], minlength=self.count))

    def rows(self, terms: list[tuple[Index, Index, Array]], count: int) -> csr_array:
        """A sparse matrix on the unknowns: each term gives rows, flat places in g, and factors, all of one shape."""
        row, at, factor = (np.concatenate([np.ravel(term[i]) for term in terms]) for i in range(3))
        column = self.index.ravel()[at]
        free = column >= 0
        return csr_array((factor[free], (row[free], column[free])), shape=(count, self.count))


def unknowns(fixed: Array, ties: Mapping[tuple[int, int], float], where: list[str]) -> Unknowns:
    """Number the free girths.

    Parameters
    ----------
    fixed : ndarray (n + 1, k)
        Girths that are given; nan where free. The first and last seam are given everywhere.
    ties : mapping (strake j of 0..n−1, frame k) -> width
        Strakes whose width there is given [mm].
    where : list of str
        What to call each frame.

    Raises
    ------
    BadPlank
        Given widths do not fill the girth between two given seams.
    """
    seams, frames = fixed.shape
    index = np.full(fixed.shape, -1, dtype=np.intp)
    offset = np.nan_to_num(fixed)
    count = 0
    for k in range(frames):
        j = 0
        while j < seams:
            end, rise = j, [0.0]
            while end < seams - 1 and (end, k) in ties:
                rise.append(rise[-1] + ties[end, k])
                end += 1
            run = slice(j, end + 1)
            given = fixed[run, k] - np.array(rise)
            known = given[np.isfinite(given)]
            if known.size:
                if np.ptp(known) > _SLACK_MM:
                    raise BadPlank(
                        f"{where[k]}: the widths set there fall {abs(known[-1] - known[0]):.1f} mm "
                        f"{'short of' if known[-1] > known[0] else 'over'} the girth between the seams they fill; "
                        "change one, or leave one free."
                    )
                held = np.isfinite(fixed[run, k])
                offset[run, k] = np.where(held, fixed[run, k], known[0] + np.array(rise))
            else:
                index[run, k], offset[run, k] = count, rise
                count += 1
            j = end + 1
    return Unknowns(index, offset, count)

"""What the user can put right. Every text says what was found, where, and what to do; it is shown as it stands."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray


class ScrieveError(Exception):
    """Something the user can put right; its text is shown to them as it stands."""


class BadLength(ScrieveError, ValueError):
    """A length that cannot be read."""


class BadMarks(ScrieveError, ValueError):
    """A file or form of marks with cells that cannot be read; `remarks` holds one line for each."""

    def __init__(self, summary: str, remarks: Sequence[str] = ()) -> None:
        super().__init__("\n".join([summary, *remarks]))
        self.summary = summary
        self.remarks = tuple(remarks)


class BadGeometry(ScrieveError, ValueError):
    """Points or curves from which no shape can be computed."""


class CannotFair(ScrieveError, ValueError):
    """Too few marks, or marks so placed that no hull passes through them."""


class NoSuchFrame(ScrieveError, LookupError):
    """A frame label or station that this hull does not have."""


class NoSuchTimber(ScrieveError, LookupError):
    """A timber that is not in the table of species."""


class BadLamination(ScrieveError, ValueError):
    """A packet of laminations that cannot be."""


class BadJig(ScrieveError, ValueError):
    """A jig on which this frame cannot be bent."""


class BadPlank(ScrieveError, ValueError):
    """A strake, a seam or a spiling from which no plank can be got out."""


class NoSuchPlank(ScrieveError, LookupError):
    """A plank that is not in this boat."""


class BadBoard(ScrieveError, ValueError):
    """A board, or a part to be cut from one, that cannot be."""


class BadBoat(ScrieveError, ValueError):
    """A boat file, or a setting of the boat, that cannot be used."""


class StoreAway(BadBoat):
    """The store cannot be had just now: held by another program, write-protected, damaged, or its server is away."""


class DiskFull(StoreAway):
    """There is no room left for what was to be stored; it was not, and what was stored before is there."""


def above_zero(
    name: str, given: ArrayLike, unit: str, error: type[ScrieveError] = BadLamination
) -> NDArray[np.float64]:
    """Return `given` as floats; raise `error`, naming the first value that is not finite and above zero."""
    values = np.asarray(given, dtype=float)
    bad = np.flatnonzero(~(np.isfinite(values) & (values > 0)))
    if bad.size:
        which = f" no. {bad[0] + 1}" if values.ndim else ""
        raise error(f"{name}{which}: {values.flat[bad[0]]:g} {unit}; give a value above zero.")
    return values


class BadPlan(ScrieveError, ValueError):
    """A yard, a member or a project from which no work can be planned; the message says what to put right."""

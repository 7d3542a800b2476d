"""What may be asked of a batten: marks and settings that cannot be are named."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from scrieve.errors import BadGeometry

Array = NDArray[np.float64]

#: A line that turns back by more than this at a mark folds [rad].
_FOLD = np.radians(150.0)


def places_of(points: ArrayLike) -> Array:
    """Marks as floats (n, 2); raise where they are no places, too few, or on one another."""
    marks = np.asarray(points, dtype=float)
    if marks.ndim != 2 or marks.shape[1:] != (2,):
        raise BadGeometry(f"marks of shape {marks.shape}; give each as two lengths, (n, 2).")
    if len(marks) < 3:
        raise BadGeometry(f"{len(marks)} marks; a batten needs at least three. Measure more marks.")
    if bad := np.flatnonzero(~np.isfinite(marks).all(axis=1)).tolist():
        raise BadGeometry(f"mark {bad[0] + 1}: {marks[bad[0]].tolist()} is no place; give two lengths in mm.")
    gaps = np.hypot(*np.diff(marks, axis=0).T)
    if len(close := np.flatnonzero(gaps <= 1e-9 * max(gaps.sum(), 1e-300))):
        i = int(close[0])
        raise BadGeometry(f"marks {i + 1} and {i + 2} lie on one another; take one of them out, or mend it.")
    return marks


def errors_of(sigma: ArrayLike | None, n: int) -> Array:
    """Measuring error of each mark (n,), one where none is given; raise where one is not above zero."""
    error = np.ones(n) if sigma is None else np.asarray(sigma, dtype=float)
    if error.ndim > 1 or error.size not in (1, n):
        raise BadGeometry(f"{error.size} measuring errors for {n} marks; give one for all, or one for each.")
    error = np.broadcast_to(error, n).astype(float)
    if len(bad := np.flatnonzero(~(np.isfinite(error) & (error > 0)))):
        raise BadGeometry(f"measuring error of mark {bad[0] + 1}: {error[bad[0]]:g} mm; give one above zero.")
    return error


def check_settings(
    n: int,
    smoothing: float | None,
    knuckles: Sequence[int],
    limits: Mapping[int, float],
    named: Collection[int],
    nodes: int,
) -> None:
    """Raise on a stiffness, knuckle, hold or number of nodes that cannot be."""
    if smoothing is not None and not (np.isfinite(smoothing) and smoothing >= 0):
        raise BadGeometry(f"smoothing {smoothing:g}; give 0 (through all marks) or more.")
    for knuckle in knuckles:
        if not 0 < knuckle < n - 1:
            raise BadGeometry(
                f"knuckle at mark {knuckle + 1} of {n}; a knuckle stands between the first and last mark."
            )
    for mark in {*limits, *named}:
        if not 0 <= mark < n:
            raise BadGeometry(f"no mark {mark + 1} among {n} to hold, keep or drop.")
    for mark, limit in limits.items():
        if not (np.isfinite(limit) and limit >= 0):
            raise BadGeometry(f"mark {mark + 1} to be held within {limit:g} mm; give 0 or more.")
    if not 20 <= nodes <= 20_000:
        raise BadGeometry(f"{nodes} nodes; give 20 to 20000.")


def refuse_folds(marks: Array, error: Array) -> None:
    """Raise where the order of the marks runs back on itself; a spike, which is a mark far out, is let through."""
    chord = np.diff(marks, axis=0)
    z = chord[:, 0] + 1j * chord[:, 1]
    turn = np.abs(np.angle(z[1:] * z[:-1].conj()))
    short = np.minimum(np.abs(z[1:]), np.abs(z[:-1])) < 4 * error[1:-1]
    across = z[1:] + z[:-1]
    place = (z[:-1] * across.conj()).real / np.maximum(np.abs(across) ** 2, 1e-300)
    if len(bad := np.flatnonzero((turn > _FOLD) & ~short & ((place < -0.1) | (place > 1.1)))):
        i = int(bad[0]) + 2
        raise BadGeometry(
            f"the line folds back at mark {i}: it turns by {np.degrees(turn[i - 2]):.0f}° there. Put the marks in "
            "order along the line, or lay two battens."
        )

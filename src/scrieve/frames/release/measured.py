"""A frame off the jig as it was measured: points or offsets, brought to the line that it ought to have."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from scrieve.errors import BadMarks, above_zero
from scrieve.frames.shape.displacement import Array, Lying, Target, lying

#: Fewest measured points of a frame: three are taken up by where it lies.
LEAST_MEASURED = 5

#: How well it is known where along its line the frame lies, one standard deviation, where its marks are laid on those
#: of the line: common practice, no source [mm].
ALONG_MM = 5.0

#: How closely the pose keeps to its places along the line: next to nothing [mm].
_HELD_MM = 0.01


@dataclass(frozen=True, slots=True, eq=False)
class Offsets:
    """How far the frame stands off its line at n places, in some pose, above zero outboard.

    `covariance_mm2` (n, n) is of the measuring alone. `placed_mm` (n, 2) are measured points as laid on the line,
    where points were measured; `turned` says that they were read with the other face up, and mirrored. `along_sd_mm` is
    how well it is known where along its line the frame lies: it is in the covariance. How the frame lies square to its
    line, and turned, is not yet settled: no figure may hang on it. `sigma_mm` (n,) is of each figure by itself.
    """

    s_mm: Array
    offset_mm: Array
    sigma_mm: Array
    covariance_mm2: Array
    placed_mm: Array | None = None
    turned: bool = False
    along_sd_mm: float = ALONG_MM


def measured_offsets(target: Target, s_mm: ArrayLike, offset_mm: ArrayLike, sigma_mm: ArrayLike) -> Offsets:
    """Offsets taken off a pattern, the lofted line or the jig's own line laid beside the frame.

    Parameters
    ----------
    target : Target
        The line it ought to have.
    s_mm, offset_mm : array_like (n,)
        Places along the line; how far the frame stands off it there, above zero outboard [mm]; n ≥ 5.
    sigma_mm : array_like, broadcast with n
        Measuring error, one standard deviation [mm].

    Raises
    ------
    BadMarks
        Too few, not finite, or off the end of the line.
    """
    s, offset = np.asarray(s_mm, dtype=float), np.asarray(offset_mm, dtype=float)
    if s.ndim != 1 or s.shape != offset.shape:
        raise BadMarks(f"{s.size} places but {offset.size} offsets; give one offset at each place.")
    _enough(len(s), bool(np.isfinite(s).all() and np.isfinite(offset).all()))
    sigma = np.broadcast_to(above_zero("error of an offset", sigma_mm, "mm", BadMarks), s.shape)
    _on_the_line(target, s)
    order = np.argsort(s)
    covariance = np.diag(sigma[order] ** 2) + _slid(target, lying(target), s[order], ALONG_MM)
    return Offsets(s[order], offset[order], sigma[order], covariance)


def _slid(target: Target, ways: Lying, s: Array, along_sd: float) -> Array:
    """Covariance of offsets by how far along its line the frame may lie off its place [mm²]."""
    moved = along_sd * target.at(s, ways.slide)
    return np.outer(moved, moved)


def measured_points(
    target: Target,
    points_mm: ArrayLike,
    sigma_mm: ArrayLike = 1.5,
    *,
    s_mm: ArrayLike | None = None,
    covariance_mm2: ArrayLike | None = None,
    turned: bool | None = None,
) -> Offsets:
    """Points measured on a frame, in axes of their own, laid on its line by turning and moving it, never stretched.

    Parameters
    ----------
    target : Target
        The line it ought to have.
    points_mm : array_like (n, 2)
        Measured points, heel to head, in axes of the builder's own [mm]; n ≥ 5.
    sigma_mm : array_like, broadcast with n
        Measuring error of each in each direction, one standard deviation [mm].
    s_mm : array_like (n,), optional
        Where along the line each was taken (the bevel stations marked on it); else the first is taken to be as far
        from the heel as the last from the head.
    covariance_mm2 : array_like (n, 2, 2), optional
        In place of `sigma_mm`, in the axes of the points.
    turned : bool, optional
        Whether the frame lay with the other face up (a starboard half beside a port line), so that the points are
        mirrored. Left out: mirrored if that fits at least twice as well.

    Returns
    -------
    Offsets
        In the pose of least Σ(outward/σ)² that does not slide the places along the line as a whole. Where they are
        guessed, what is left over of the line's length tells how well.

    Raises
    ------
    BadMarks
        Too few points, not finite, or not in order.

    References
    ----------
    .. [1] Rigid registration by least squares, point to curve (Gauss-Newton); docs/glue-up.md, "Deviation".
    """
    points = np.asarray(points_mm, dtype=float)
    if points.ndim != 2 or points.shape[1:] != (2,):
        raise BadMarks("measured points: give two coordinates for each.")
    _enough(len(points), bool(np.isfinite(points).all()))
    if covariance_mm2 is None:
        sigma = np.broadcast_to(above_zero("error of a point", sigma_mm, "mm", BadMarks), (len(points),))
        covariance = sigma[:, None, None] ** 2 * np.eye(2)
    else:
        covariance = np.broadcast_to(np.asarray(covariance_mm2, dtype=float), (len(points), 2, 2))
    s = np.asarray(s_mm, dtype=float) if s_mm is not None else _guessed(target, points)
    if s.shape != (len(points),):
        raise BadMarks(f"{len(points)} points but {s.size} places; give a place for each, or none at all.")
    if np.any(np.diff(s) <= 0):
        raise BadMarks("measured points: the places along the frame must run from heel to head; put them in order.")
    along = ALONG_MM
    if s_mm is not None:
        _on_the_line(target, s)
    else:  # anywhere in what is left over, as likely as elsewhere
        along = float(np.hypot(ALONG_MM, (target.length_mm - (s[-1] - s[0])) / np.sqrt(12)))
    other = points * [-1.0, 1.0]
    known = target.at(s, target.points_mm)
    over = _misfit(other, known) < _misfit(points, known) / 2 if turned is None else turned
    if over:
        points, covariance = other, covariance * [[1.0, -1.0], [-1.0, 1.0]]
    return replace(_laid(target, points, covariance, s, along), turned=bool(over))


def _laid(target: Target, points: Array, covariance: Array, s: Array, along_sd: float) -> Offsets:
    ways = lying(target)
    to_slide = _to_slide(target, ways, s)
    way, shift = _first_pose(points, target.at(s, target.points_mm))
    tangents, normals = target.tangent, target.outward
    foot = s.copy()
    for _ in range(30):
        placed = points @ way.T + shift
        for _ in range(3):
            t = target.at(foot, tangents)
            foot = foot + ((placed - target.at(foot, target.points_mm)) * t).sum(axis=1)
        n = target.at(foot, normals)
        off = ((placed - target.at(foot, target.points_mm)) * n).sum(axis=1)
        turned = way @ covariance @ way.T
        w = 1 / np.einsum("ij,ijk,ik->i", n, turned, n)
        middle = placed.mean(axis=0)
        arm = placed - middle
        square = np.column_stack([-arm[:, 1], arm[:, 0]])
        outward, along = (np.column_stack([axis, (square * axis).sum(axis=1)]) for axis in (n, t))
        rows = np.vstack([outward * np.sqrt(w)[:, None], to_slide @ along / _HELD_MM])
        seen = np.append(off * np.sqrt(w), to_slide @ (foot - s) / _HELD_MM)
        step = np.linalg.lstsq(rows, -seen, rcond=1e-12)[0]
        c, d = np.cos(step[2]), np.sin(step[2])
        turn = np.array([[c, -d], [d, c]])
        way, shift = turn @ way, turn @ (shift - middle) + middle + step[:2]
        if np.abs(step[:2]).max() < 1e-6 and abs(step[2]) < 1e-10:
            break
    covariance = np.diag(1 / w) + _slid(target, ways, foot, along_sd)
    return Offsets(foot, off, w**-0.5, covariance, placed, along_sd_mm=along_sd)


def _to_slide(target: Target, ways: Lying, s: Array) -> Array:
    """(n,) what each mm that a place has gone along the line adds to the slide of the whole; straight between them."""
    hats = np.column_stack([np.interp(target.s_mm, s, row) for row in np.eye(len(s))])
    return ways.slid(hats)


def _first_pose(points: Array, known: Array) -> tuple[Array, Array]:
    """Turn and shift of least squares between points that belong together."""
    p0, q0 = points.mean(axis=0), known.mean(axis=0)
    a, b = points - p0, known - q0
    angle = np.arctan2((a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]).sum(), (a * b).sum())
    way = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    return way, q0 - way @ p0


def _misfit(points: Array, known: Array) -> float:
    """Root mean square distance when laid on each other."""
    way, shift = _first_pose(points, known)
    return float(np.sqrt(np.mean((points @ way.T + shift - known) ** 2)))


def _guessed(target: Target, points: Array) -> Array:
    """Places from the lengths between the points, arcs for chords, what is left over shared by both ends."""
    chord = np.hypot(*np.diff(points, axis=0).T)
    if np.any(chord <= 0):
        raise BadMarks("measured points: two in a row are the same; give them heel to head, each once.")
    arc = chord
    for _ in range(5):
        run = np.concatenate([[0.0], np.cumsum(arc)])
        s = target.s_mm[0] + (target.length_mm - run[-1]) / 2 + run
        arc = chord * np.maximum(np.diff(s) / np.hypot(*np.diff(target.at(s, target.points_mm), axis=0).T), 1.0)
    return np.asarray(s)


def _enough(count: int, finite: bool) -> None:
    if count < LEAST_MEASURED:
        raise BadMarks(
            f"{count} measured places on the frame; give {LEAST_MEASURED} or more: three go into where it lies."
        )
    if not finite:
        raise BadMarks("a measured place or offset is not a finite number; give mm.")


def _on_the_line(target: Target, s: Array) -> None:
    off = np.flatnonzero((s < target.s_mm[0] - 100) | (s > target.s_mm[-1] + 100))
    if off.size:
        raise BadMarks(
            f"place no. {off[0] + 1}, {s[off[0]]:.0f} mm along: the frame's line runs from {target.s_mm[0]:.0f} to "
            f"{target.s_mm[-1]:.0f} mm."
        )


def rigid_at(target: Target, offsets: Offsets) -> Array:
    """(n, 2) outward movement of the measured places where the frame is moved in the two ways that are free."""
    return target.at(offsets.s_mm, lying(target).square)

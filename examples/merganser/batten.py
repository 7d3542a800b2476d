"""What a spiling batten would carry: a plank's two seams laid flat, and the marks that lead back to them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import form
import numpy as np

BLOCK_MM = 40.0  # width of the block held to the lower seam
COMPASS_MM = 110.0  # opening of the compass swung from the upper seam
PRICKS_MM = 60.0  # the compass's two centres stand this far before and behind the frame

_STEPS = 30  # from frame to frame


def laid_flat(stations: Sequence[float], shares: tuple[float, float], side: str) -> tuple[form.Array, form.Array]:
    """Lower and upper seam at the stations, laid flat by triangles: (n, 2) each [mm].

    The strip between the seams is cut into narrow triangles, laid one against the next with their true sides. The
    datum line (y = 0) runs from the middle of the first frame's width to the middle of the last's.
    """
    ends = np.asarray(stations, dtype=float)
    x = np.interp(np.arange((len(ends) - 1) * _STEPS + 1) / _STEPS, np.arange(len(ends)), ends)
    lines = [form.section_at(at, shares, side) for at in x]
    lower, upper = (
        np.array([(at, line.half_breadth_mm[i], line.height_mm[i]) for at, line in zip(x, lines, strict=True)])
        for i in (0, 1)
    )
    flat = np.zeros((2, len(x), 2))
    flat[1, 0] = 0.0, np.linalg.norm(upper[0] - lower[0])
    for i in range(len(x) - 1):
        a, b = flat[:, i]
        flat[1, i + 1] = _apex(a, b, np.linalg.norm(upper[i + 1] - lower[i]), np.linalg.norm(upper[i + 1] - upper[i]))
        flat[0, i + 1] = _apex(
            a, flat[1, i + 1], np.linalg.norm(lower[i + 1] - lower[i]), np.linalg.norm(upper[i + 1] - lower[i + 1])
        )
    first, last = flat[:, 0].mean(axis=0), flat[:, -1].mean(axis=0)
    along = (last - first) / np.linalg.norm(last - first)
    turned = (flat - first) @ np.array([[along[0], -along[1]], [along[1], along[0]]])
    return turned[0, ::_STEPS], turned[1, ::_STEPS]


def _apex(a: form.Array, b: form.Array, from_a: np.floating, from_b: np.floating) -> form.Array:
    """Third corner of a triangle on the side a to b, to the right of it."""
    side = np.linalg.norm(b - a)
    along = (b - a) / side
    foot = (from_a**2 - from_b**2 + side**2) / (2 * side)
    return np.asarray(a + foot * along + np.sqrt(from_a**2 - foot**2) * np.array([along[1], -along[0]]))


def marks(frames: Sequence[int], lower: form.Array, upper: form.Array) -> Iterable[tuple[object, ...]]:
    """Rows of a spiling file: a block along the lower seam, two compass arcs to each point of the upper."""
    run = np.gradient(lower[:, 1], lower[:, 0])
    square = np.stack([-run, np.ones_like(run)], axis=-1) / np.hypot(1, run)[:, None]
    for frame, (x, y) in zip(frames, lower + BLOCK_MM * square, strict=True):
        yield frame, "lower", "block", half_mm(x), half_mm(y), BLOCK_MM
    for frame, (x, y) in zip(frames, upper, strict=True):
        for aside in (-PRICKS_MM, PRICKS_MM):
            down = np.sqrt(COMPASS_MM**2 - aside**2)
            yield frame, "upper", "arc", half_mm(x + aside), half_mm(y - down), COMPASS_MM


def half_mm(value: float) -> float:
    """A length as read off a steel rule."""
    return round(2 * float(value)) / 2 + 0.0  # no minus nought

"""The bench's forms as planking takes them: a smooth surface over the station and the share of the girth."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
from scipy.interpolate import RectBivariateSpline

sys.path.insert(0, str(Path(__file__).parents[2] / "bench"))

from forms import FORMS, LENGTH


class FormHull:
    """A form of bench/forms.py from -0.46 to 0.46 of its length, frames 1 to 40 evenly spaced."""

    def __init__(self, name: str, frames: int = 40) -> None:
        form = next(form for form in FORMS if form.name == name)
        x = np.linspace(-0.46, 0.46, 93) * LENGTH
        v = np.linspace(0, 1, 161)
        plane = np.empty((len(x), len(v), 2))
        for i, at in enumerate(x):
            points, s = form.dense(float(at))
            plane[i] = np.column_stack([np.interp(v * s[-1], s, points[:, axis]) for axis in (0, 1)])
        self._y, self._z = (RectBivariateSpline(x, v, plane[..., axis], s=0) for axis in (0, 1))
        self.x_range = (float(x[0]), float(x[-1]))
        self.stations = {str(i + 1): float(at) for i, at in enumerate(np.linspace(x[0], x[-1], frames))}

    def point(self, x, v):
        x, v = np.broadcast_arrays(np.asarray(x, dtype=float), np.asarray(v, dtype=float))
        return np.stack([x, self._y.ev(x, v), self._z.ev(x, v)], axis=-1)

    def partials(self, x, v):
        x, v = np.broadcast_arrays(np.asarray(x, dtype=float), np.asarray(v, dtype=float))
        return (
            np.stack([np.ones_like(x), self._y.ev(x, v, dx=1), self._z.ev(x, v, dx=1)], axis=-1),
            np.stack([np.zeros_like(x), self._y.ev(x, v, dy=1), self._z.ev(x, v, dy=1)], axis=-1),
        )

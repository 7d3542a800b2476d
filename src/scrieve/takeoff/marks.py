"""A mark: one point of the hull as the builder took it off."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from scrieve.boat import Side

#: How a mark was taken off; each way has a form of its own.
Way = Literal["offsets", "ordinates", "tapes", "templates", "arcs"]

#: What a mark may be besides a plain point of the moulded line: names the file may use -> the name kept.
KINDS = {
    "": "",
    "mark": "",
    "offset": "",
    "heel": "heel",
    "keel": "heel",
    "rabbet": "heel",
    "head": "head",
    "sheer": "head",
    "deck": "head",
    "gunwale": "head",
    "knuckle": "knuckle",
    "chine": "knuckle",
}


@dataclass(frozen=True, slots=True)
class Mark:
    """One point taken off the hull; lengths in mm.

    `number` is the mark's own in its boat (0 before it is stored). `frame` is the builder's label. `side` is 'P', 'S'
    or '' where the mark stands for both. `label` is the builder's name of the mark. `sigma_mm` is its measuring error
    where stated. `kind` is '', 'heel', 'head' or 'knuckle'. `line` is the line of the file it came from (0: typed).

    A mark that was found from other readings has all three of `var_height_mm2`, `var_half_breadth_mm2` and `cov_mm2`,
    and `sigma_mm` is then the root mean square of the half-axes of its error ellipse. `way` is how it was taken off;
    `raw` holds, as JSON, what was read and what was found from it, where that is more than height and half-breadth.
    """

    frame: str
    station_mm: float
    height_mm: float
    half_breadth_mm: float
    side: Side = ""
    label: str = ""
    sigma_mm: float | None = None
    kind: str = ""
    note: str = ""
    number: int = 0
    line: int = 0
    var_height_mm2: float | None = None
    var_half_breadth_mm2: float | None = None
    cov_mm2: float | None = None
    way: Way = "offsets"
    raw: str = ""

    @property
    def readings(self) -> dict[str, Any]:
        """What was read, as kept in `raw`; empty for plain offsets. What is in plain words comes under 'text'."""
        return self._part("read", {"text": self.raw} if self.raw else {})

    @property
    def found(self) -> dict[str, Any]:
        """What was found from the readings besides the point: residuals, the point on the other side."""
        return self._part("found", {})

    def _part(self, name: str, otherwise: dict[str, Any]) -> dict[str, Any]:
        try:
            kept = json.loads(self.raw)
        except ValueError:
            return otherwise
        part = kept.get(name) if isinstance(kept, dict) else None
        return part if isinstance(part, dict) else otherwise

    def covariance_mm2(self, sigma_mm: float) -> NDArray[np.float64]:
        """Covariance (2, 2) of half-breadth and height [mm²]: its own, or its own or else the boat's error both ways.

        Examples
        --------
        >>> Mark("14", 0.0, 900.0, 1200.0).covariance_mm2(2.0).tolist()
        [[4.0, 0.0], [0.0, 4.0]]
        """
        if self.var_height_mm2 is None or self.var_half_breadth_mm2 is None or self.cov_mm2 is None:
            return np.eye(2) * (sigma_mm if self.sigma_mm is None else self.sigma_mm) ** 2
        return np.array([[self.var_half_breadth_mm2, self.cov_mm2], [self.cov_mm2, self.var_height_mm2]])

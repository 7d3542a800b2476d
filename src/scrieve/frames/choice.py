"""What the builder settles for one pair of frames: plain values that go through JSON and back unchanged."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields
from typing import Any, Literal

from scrieve.errors import BadLamination

MouldingEdge = Literal["fore", "aft", "auto"]
Bearing = Literal["inside", "outside"]

_ABOVE_ZERO = ("sided_mm", "moulded_mm", "pitch_mm", "margin", "spring_factor")
_NOT_BELOW_ZERO = ("kerf_mm", "cleaning_mm", "edge_cleaning_mm", "planing_mm", "trim_mm", "clearance_mm")
_OPTIONAL = ("moulded_head_mm", "lamination_mm", "count", "spread_g_m2")


@dataclass(frozen=True, slots=True)
class FrameChoice:
    """What the builder settles for one pair of frames; lengths in mm.

    Attributes
    ----------
    frame : str
        The builder's label of the frame.
    timber : str
        'larch', or 'sapele/larch' for laminations taken in turn from both faces inwards.
    stack : tuple of (timber, thickness)
        The laminations one by one from the inside outwards; where given it stands before `timber`, `lamination_mm`
        and `count`.
    sided_mm, moulded_mm : float
        Finished fore-and-aft size; finished in-and-out size (at the heel, where `moulded_head_mm` is given too).
    moulded_head_mm : float or None
        Moulded depth at the head, for a frame that tapers evenly along its girth.
    moulding_edge : 'fore', 'aft' or 'auto'
        The face that lies on the station and carries the moulded line; 'auto' takes the face from which the bevel
        comes off as wood removed (under bevel).
    lamination_mm, count : float, int or None
        To force the thickness or the number of laminations.
    kerf_mm, cleaning_mm, edge_cleaning_mm, planing_mm : float
        Saw kerf; wood to clean off each face of the packet and each sawn face; off each edge of the blank; added to
        the thickness of each lamination as sawn.
    trim_mm : float
        Length past heel and head at each end.
    bearing : 'inside' or 'outside'
        The face of the packet that lies against the brackets.
    pitch_mm, clearance_mm : float
        Rails of the jig, middle to middle; the least travel of a bracket from the datum line.
    double_ends : bool
        Set a second bracket near each end where the packet would otherwise leave the wanted curve by over 1 mm.
    margin : float
        Share of the breaking strain to which the outer fibre of a lamination may be bent (shop default 0.5).
    spring_factor : float
        Learnt factor on the computed springback (1 until releases have been measured).
    glue, spread_g_m2 : str, float or None
        Family of glue; the spread of its maker's data sheet, if it is to replace the shop default.
    waterlines_mm : tuple of float
        Heights to be marked on each half.
    """

    frame: str = ""
    timber: str = "larch"
    stack: tuple[tuple[str, float], ...] = ()
    sided_mm: float = 45.0
    moulded_mm: float = 60.0
    moulded_head_mm: float | None = None
    moulding_edge: MouldingEdge = "auto"
    lamination_mm: float | None = None
    count: int | None = None
    kerf_mm: float = 3.0
    cleaning_mm: float = 2.0
    edge_cleaning_mm: float = 2.0
    planing_mm: float = 2.0
    trim_mm: float = 75.0
    bearing: Bearing = "inside"
    pitch_mm: float = 250.0
    clearance_mm: float = 100.0
    double_ends: bool = True
    margin: float = 0.5
    spring_factor: float = 1.0
    glue: str = "epoxy"
    spread_g_m2: float | None = None
    waterlines_mm: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        for name in ("frame", "timber", "glue"):
            value = getattr(self, name)
            self._must(name, value, isinstance(value, str), "give text")
        for name in [field.name for field in fields(self)]:
            value = getattr(self, name)
            if name in _OPTIONAL and value is None:
                continue
            if name in _ABOVE_ZERO or name in _OPTIONAL:
                self._must(name, value, _number(value) and value > 0, "give a value above zero")
            elif name in _NOT_BELOW_ZERO:
                self._must(name, value, _number(value) and value >= 0, "give zero or more")
        self._must(
            "moulding_edge", self.moulding_edge, self.moulding_edge in ("fore", "aft", "auto"), "say fore or aft"
        )
        self._must("bearing", self.bearing, self.bearing in ("inside", "outside"), "say inside or outside")
        self._must("margin", self.margin, self.margin <= 1, "give a share up to 1 of the breaking strain")
        whole = self.count is None or (isinstance(self.count, int) and self.count >= 2)
        self._must("count", self.count, whole, "give a whole number of laminations, two or more")
        for timber, thickness in self.stack:
            self._must(f"stack, {timber}", thickness, _number(thickness) and thickness > 0, "give a value above zero")
        self._must("stack", self.stack, len(self.stack) != 1, "give two laminations or more")
        for height in self.waterlines_mm:
            self._must("waterlines_mm", height, _number(height), "give heights in mm")

    def _must(self, name: str, value: object, good: bool, remedy: str) -> None:
        if not good:
            raise BadLamination(f"frame {self.frame or '(no label)'}, {name}: found {value!r}; {remedy}.")

    @classmethod
    def from_mapping(cls, given: Mapping[str, Any]) -> FrameChoice:
        """Read a choice from plain values, as JSON gives them (lists for tuples).

        Raises
        ------
        BadLamination
            A setting is not known or has a value that cannot be used.

        Examples
        --------
        >>> choice = FrameChoice.from_mapping({"frame": "14", "timber": "sapele/larch", "waterlines_mm": [600]})
        >>> FrameChoice.from_mapping(choice.to_mapping()) == choice
        True
        """
        known = [field.name for field in fields(cls)]
        if strange := [name for name in given if name not in known]:
            raise BadLamination(f"setting {strange[0]!r} is not known; the settings are {', '.join(known)}.")
        values = dict(given)
        try:
            if "stack" in values:
                values["stack"] = tuple((str(timber), float(thickness)) for timber, thickness in values["stack"])
            if "waterlines_mm" in values:
                values["waterlines_mm"] = tuple(float(height) for height in values["waterlines_mm"])
        except (TypeError, ValueError) as error:
            raise BadLamination(
                f"stack or waterlines: found {given.get('stack')!r}, {given.get('waterlines_mm')!r}; "
                "give pairs of timber and thickness, and heights in mm."
            ) from error
        return cls(**values)

    def to_mapping(self) -> dict[str, Any]:
        """Return the choice as plain values, fit for JSON."""
        plain = asdict(self)
        plain["stack"] = [list(pair) for pair in self.stack]
        plain["waterlines_mm"] = list(self.waterlines_mm)
        return plain


def _number(value: object) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool) and math.isfinite(value)

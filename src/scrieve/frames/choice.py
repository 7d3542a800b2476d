"""What the builder settles for one pair of frames: plain values that go through JSON and back unchanged."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, fields
from itertools import pairwise
from typing import Any, Literal, get_args

from scrieve.errors import BadLamination

MouldingEdge = Literal["fore", "aft", "auto"]
Bearing = Literal["inside", "outside"]
CutKind = Literal["square", "level", "plumb", "angle"]
Cut = tuple[CutKind, float, float]
Notch = tuple[str, float, Literal["outer", "inner"], float, float]
MadeFrom = Literal["both", "port", "starboard"]
Hands = Literal["pair", "port", "starboard"]

_ABOVE_ZERO = (
    "sided_mm", "moulded_mm", "step_mm", "pitch_mm", "margin", "spring_factor", "scarf_slope", "clamp_n",
)  # fmt: skip
_NOT_BELOW_ZERO = ("kerf_mm", "cleaning_mm", "edge_cleaning_mm", "planing_mm", "trim_mm", "clearance_mm", "caul_mm")
_OPTIONAL = ("moulded_head_mm", "lamination_mm", "count", "spread_g_m2", "board_mm", "old_sided_mm", "old_moulded_mm")

#: Sizes beyond these are slips of the pen, or a jig of thousands of brackets [mm].
LIMITS_MM = {
    "sided": (5.0, 1000.0),
    "moulded": (5.0, 2000.0),
    "moulded_head": (5.0, 2000.0),
    "lamination": (0.5, 150.0),
    "step": (0.1, 10.0),
    "pitch": (50.0, 5000.0),
    "kerf": (0.0, 25.0),
    "cleaning": (0.0, 50.0),
    "edge_cleaning": (0.0, 50.0),
    "planing": (0.0, 50.0),
    "trim": (0.0, 1000.0),
    "clearance": (0.0, 5000.0),
    "board": (200.0, 30_000.0),
    "caul": (0.0, 500.0),
}
MOST_LAMINATIONS = 200
#: The same of settings that are no lengths, with their units.
LIMITS = {
    "spring_factor": (0.0, 5.0, ""),
    "clamp_n": (10.0, 1e5, " N"),
    "spread_g_m2": (10.0, 5000.0, " g/m²"),
}


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
    step_mm : float
        What a planer is set by: a thickness that is computed is rounded up to a whole number of these.
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
    ends : tuple of (number, first, last)
        Laminations that stop short: the number from the inside, and where along the moulded line it begins and ends
        [mm]; None where it runs past the heel or the head.
    steamed_share : float
        Share of the jig's curve that every lamination already holds when it is laid up (steamed over the same former
        and dried): measure it on a trial strip. 0 for straight stock.
    prebent, prebent_radius : tuple of (number, share) and of (number, mm)
        The same for single laminations: the share that they hold, or the radius that they were bent to, above zero
        where hollow inboard.
    allow_for_cleaning : bool
        Set the jig so that the frame has its shape after cleaning off, not before: what is planed off carries stress.
    moulded_table : tuple of (place, depth)
        Moulded depth by table, straight between places along the moulded line; stands before `moulded_mm`.
    heel_cut, head_cut : tuple of (kind, place, degrees)
        'square' to the moulded line, 'level', 'plumb' or 'angle' (degrees from square, turning to the left going
        heel to head); the place is how far inside the end of the moulded line.
    notches : tuple of (name, place, face, length, depth)
        Cut-outs on the 'outer' or 'inner' edge, by the middle of each along the moulded line: limber holes, and
        notches for a riser, a shelf or a stringer.
    board_mm, scarf_slope : float or None, float
        The longest clear board at hand, if laminations must be scarfed; length of a scarf over thickness.
    scarf_rule : 'clear' or 'butts'
        Scarfs of neighbours one scarf's length clear, or staggered as butts of planking; see
        `scrieve.frames.packet.scarfs`.
    clamp_n, caul_mm : float
        Force of one clamp; thickness of the cauls under it.
    old_timber, old_sided_mm, old_moulded_mm : str, float, float, each or None
        The old frame, against which the new one is held.
    strength_at_mm : tuple of float
        Places along the moulded line, chosen by the builder, at which the section is told and held against the old
        one, besides those at which it always is.
    old_kind : 'steamed' or 'sawn'
        How the old frame was got out.
    hull : 'both', 'port' or 'starboard'
        Whose marks its line is faired from: both sides as one, or those of one side by itself.
    hands : 'pair', 'port' or 'starboard'
        What is got out of the blank: both halves, or the frame of one side alone.
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
    step_mm: float = 0.5
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
    ends: tuple[tuple[int, float | None, float | None], ...] = ()
    steamed_share: float = 0.0
    prebent: tuple[tuple[int, float], ...] = ()
    prebent_radius: tuple[tuple[int, float], ...] = ()
    allow_for_cleaning: bool = False
    moulded_table: tuple[tuple[float, float], ...] = ()
    heel_cut: Cut = ("square", 0.0, 0.0)
    head_cut: Cut = ("square", 0.0, 0.0)
    notches: tuple[Notch, ...] = ()
    board_mm: float | None = None
    scarf_slope: float = 12.0
    scarf_rule: Literal["clear", "butts"] = "clear"
    clamp_n: float = 3000.0
    caul_mm: float = 25.0
    old_timber: str | None = None
    old_sided_mm: float | None = None
    old_moulded_mm: float | None = None
    strength_at_mm: tuple[float, ...] = ()
    old_kind: Literal["steamed", "sawn"] = "steamed"
    hull: MadeFrom = "both"
    hands: Hands = "pair"

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
        for place in self.strength_at_mm:
            good = _number(place) and place >= 0
            self._must("strength_at_mm", place, good, "give places from the heel along the moulded line, zero or more")
        for name, (low, high) in LIMITS_MM.items():
            size = getattr(self, f"{name}_mm")
            self._must(f"{name}_mm", size, size is None or low <= size <= high, f"give {low:g} to {high:g} mm")
        for name, (low, high, unit) in LIMITS.items():
            figure = getattr(self, name)
            self._must(name, figure, figure is None or low <= figure <= high, f"give {low:g} to {high:.0f}{unit}")
        few = f"give {MOST_LAMINATIONS} laminations at most"
        self._must("count", self.count, (self.count or 0) <= MOST_LAMINATIONS, few)
        self._must("stack", f"{len(self.stack)} laminations", len(self.stack) <= MOST_LAMINATIONS, few)
        self._check_stack()
        self._check_outline()

    def _check_stack(self) -> None:
        """Ends and pre-bending of laminations."""
        share = "give a share from 0 (straight) to below 1"
        self._must("steamed_share", self.steamed_share, _share(self.steamed_share), share)
        for number, first, last in self.ends:
            places = [place for place in (first, last) if place is not None]
            good = all(_number(place) for place in places) and (len(places) < 2 or places[0] < places[1])
            self._must(f"ends, lamination {number}", (first, last), good, "give where it begins, then where it ends")
        for number, held in self.prebent:
            self._must(f"prebent, lamination {number}", held, _share(held), share)
        for number, radius in self.prebent_radius:
            good = _number(radius) and radius != 0
            self._must(f"prebent_radius, lamination {number}", radius, good, "give a radius, below zero where reversed")
        self._must("scarf_slope", self.scarf_slope, 1 <= self.scarf_slope <= 50, "give length over thickness, 1 to 50")

    def _check_outline(self) -> None:
        """Moulded table, cuts, notches and the old frame."""
        places = [place for place, _ in self.moulded_table]
        for place, depth in self.moulded_table:
            self._must(
                "moulded_table", depth, _number(place) and _number(depth) and depth > 0, "give depths above zero"
            )
        rising = all(a < b for a, b in pairwise(places)) and len(places) != 1
        self._must("moulded_table", places, rising, "give two places or more, heel to head")
        for name, (kind, place, degrees) in (("heel_cut", self.heel_cut), ("head_cut", self.head_cut)):
            self._must(name, kind, kind in get_args(CutKind), f"say {', '.join(get_args(CutKind))}")
            self._must(name, place, _number(place) and place >= 0, "give how far inside the end, zero or more")
            self._must(name, degrees, _number(degrees) and abs(degrees) <= 75, "give degrees from square, up to 75")
        for text, place, edge, length, depth in self.notches:
            self._must(f"notches, {text}", edge, edge in ("outer", "inner"), "say outer or inner")
            good = _number(place) and _number(length) and _number(depth) and length > 0 and depth > 0
            self._must(f"notches, {text}", (place, length, depth), good, "give its place, and a length and depth")
        rule = self.scarf_rule in ("clear", "butts")
        self._must("scarf_rule", self.scarf_rule, rule, "say clear or butts")
        self._must("hull", self.hull, self.hull in get_args(MadeFrom), "say both, port or starboard")
        self._must("hands", self.hands, self.hands in get_args(Hands), "say pair, port or starboard")
        old = self.old_kind in ("steamed", "sawn")
        self._must("old_kind", self.old_kind, old, "say steamed or sawn")

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
        for name, (read, expected) in _LISTS.items():
            if name in values:
                try:
                    values[name] = read(values[name])
                except (TypeError, ValueError) as error:
                    raise BadLamination(f"{name}: found {given[name]!r}; give {expected}.") from error
        return cls(**values)

    @property
    def hands_words(self) -> str:
        """What is got out of the blank, in words."""
        return "port and starboard" if self.hands == "pair" else f"{self.hands} only"

    @property
    def hull_words(self) -> str:
        """Whose marks the line is faired from, in words."""
        if self.hull == "both":
            return "both sides faired as one"
        if self.hands == "pair":
            return f"{self.hull}'s own marks; both halves are to {self.hull}'s line"
        return f"{self.hull}'s own marks"

    def to_mapping(self) -> dict[str, Any]:
        """Return the choice as plain values, fit for JSON."""
        return {name: _listed(value) for name, value in asdict(self).items()}


def _listed(value: Any) -> Any:
    return [_listed(each) for each in value] if isinstance(value, (tuple, list)) else value


def _rows(*kinds: Callable[[Any], Any]) -> Callable[[Any], tuple[Any, ...]]:
    """Read a list of rows whose cells are of these kinds."""
    return lambda given: tuple(_row(*kinds)(row) for row in given)


def _row(*kinds: Callable[[Any], Any]) -> Callable[[Any], tuple[Any, ...]]:
    return lambda row: tuple(kind(cell) for kind, cell in zip(kinds, row, strict=True))


def _end(given: Any) -> float | None:
    return None if given is None else float(given)


#: How lists come back from plain values, and what is expected of them.
_LISTS: dict[str, tuple[Callable[[Any], Any], str]] = {
    "stack": (_rows(str, float), "pairs of timber and thickness"),
    "waterlines_mm": (lambda given: tuple(float(height) for height in given), "heights in mm"),
    "strength_at_mm": (lambda given: tuple(float(place) for place in given), "places in mm"),
    "ends": (_rows(int, _end, _end), "a number, where it begins and where it ends (null: past the end) for each"),
    "prebent": (_rows(int, float), "pairs of number and share"),
    "prebent_radius": (_rows(int, float), "pairs of number and radius in mm"),
    "moulded_table": (_rows(float, float), "pairs of place and depth in mm"),
    "heel_cut": (_row(str, float, float), "a kind, a place in mm and degrees"),
    "head_cut": (_row(str, float, float), "a kind, a place in mm and degrees"),
    "notches": (_rows(str, float, str, float, float), "name, place, edge, length and depth for each"),
}


def _share(value: object) -> bool:
    return _number(value) and 0 <= float(value) < 1  # type: ignore[arg-type]


def _number(value: object) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool) and math.isfinite(value)

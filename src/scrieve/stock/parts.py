"""What is to be cut: outlines with their allowances, how many, and what wood each will stand."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely import Polygon

from scrieve.errors import BadBoard
from scrieve.planking import PlankDesign
from scrieve.planking.board import least_strip
from scrieve.stock.board import Points

Array = NDArray[np.float64]
Show = Literal["", "inside", "outside"]
Sapwood = Literal["never", "allowed"]

#: Slope of the grain against a plank's run, as rise in run. Common practice, no source; set it for the work in hand.
GRAIN_SLOPE = 1 / 8
#: Of the points along a plank's edges every so many are taken.
_STEP = 4
#: Between the names of the two parts in which a plank is drawn that takes a stealer's nib.
PAST_NIB = " + "
#: Parts that meet in a line are taken as one within this [mm].
_MEET_MM = 0.05


@dataclass(frozen=True, slots=True)
class Rules:
    """What wood a part will stand; shop defaults, common practice, no source.

    `grain_limit_rad` is how far the grain may run off the part's own run anywhere along it; None where it does not
    matter. `sound_knot_mm` is the greatest sound knot allowed, `knot_face` where: on the inside face alone, or on any.
    `sapwood` is never taken unless allowed. `defect_margin_mm` is clear wood kept
    around every defect, `edge_margin_mm` clear of wane and board ends.
    """

    grain_limit_rad: float | None = math.atan(GRAIN_SLOPE)
    sound_knot_mm: float = 0.0
    knot_face: Literal["inside", "any"] = "inside"
    sapwood: Sapwood = "never"
    defect_margin_mm: float = 5.0
    edge_margin_mm: float = 5.0


RULES = Rules()


@dataclass(frozen=True, slots=True)
class Part:
    """One part to be laid on boards; lengths in mm.

    Attributes
    ----------
    name : str
    outline : points
        Corners, seen with the inside face up; allowances included.
    thickness_mm : float
        Least thickness of board.
    run : points
        The line along which its grain should run; empty for the x axis.
    quantity : int
    show : '', 'inside' or 'outside'
        Which of its faces is seen and must lie on the board's best face.
    turn_over : bool
        Whether it may be marked out with its outside face up.
    book_matched : bool
        Port and starboard got out as one and resawn: the board must hold twice the thickness and a kerf.
    rules : Rules
    timber : str
        Only boards of this timber; '' for any.
    """

    name: str
    outline: Points
    thickness_mm: float
    run: Points = ()
    quantity: int = 1
    show: Show = ""
    turn_over: bool = True
    book_matched: bool = False
    rules: Rules = RULES
    timber: str = ""

    def __post_init__(self) -> None:
        """Refuse what cannot be a part."""
        called = f"part {self.name!r}"
        points = np.asarray(self.outline, dtype=float)
        if points.ndim != 2 or points.shape[-1] != 2 or len(points) < 3 or not np.all(np.isfinite(points)):
            raise BadBoard(f"{called}: the outline has {len(self.outline)} points; give three corners or more.")
        shape = Polygon(self.outline)
        if not shape.is_valid or shape.area <= 0:
            raise BadBoard(f"{called}: the outline crosses itself or encloses nothing.")
        if not (math.isfinite(self.thickness_mm) and self.thickness_mm > 0):
            raise BadBoard(f"{called}: thickness {self.thickness_mm:g} mm; give a value above zero.")
        if self.quantity < 1:
            raise BadBoard(f"{called}: quantity {self.quantity}; give one or more.")

    @property
    def polygon(self) -> Polygon:
        """The outline as a polygon."""
        return Polygon(self.outline)

    @property
    def area_mm2(self) -> float:
        """Area of one [mm²]."""
        return float(self.polygon.area)

    @property
    def wanted_mm2(self) -> float:
        """Area of the planks that it gives: of two where it is resawn into a pair [mm²]."""
        return self.area_mm2 * (2 if self.book_matched else 1)

    @property
    def length_mm(self) -> float:
        """Extent along x [mm]."""
        x = [point[0] for point in self.outline]
        return max(x) - min(x)

    def run_line(self) -> Array:
        """(n, 2) the line along which the grain should run."""
        if self.run:
            return np.array(self.run, dtype=float)
        x = [point[0] for point in self.outline]
        return np.array([[min(x), 0.0], [max(x), 0.0]])

    def stock_mm(self, kerf_mm: float) -> float:
        """Thickness of board needed: twice its own and a kerf where it is resawn into a pair."""
        return 2 * self.thickness_mm + kerf_mm if self.book_matched else self.thickness_mm


def between_edges(lower: ArrayLike, upper: ArrayLike, *, first_mm: float = 0.0, last_mm: float = 0.0,
                  edge_mm: float = 0.0, step: int = 1) -> tuple[Points, Points]:  # fmt: skip
    """Outline and run of a part between two edges sampled alike, with allowances.

    Parameters
    ----------
    lower, upper : array_like (n, 2)
        Its edges, first end to last [mm].
    first_mm, last_mm : float
        Wood added past each end, straight on.
    edge_mm : float
        Wood added along both edges together, half to each.
    step : int
        Take every so many points.

    Returns
    -------
    outline, run : points
    """
    low, high = (np.asarray(edge, dtype=float) for edge in (lower, upper))
    if low.shape != high.shape or low.ndim != 2 or len(low) < 2:
        raise BadBoard("the two edges of a part must have the same number of points, two or more.")
    take = np.unique(np.r_[0 : len(low) : step, len(low) - 1])
    low, high = low[take], high[take]
    for row, added, inner in ((0, first_mm, 1), (-1, last_mm, -2)):
        if added > 0:
            low, high = (_longer(edge, row, inner, added) for edge in (low, high))
    over = high - low
    over = over / np.hypot(*over.T)[:, None] * edge_mm / 2
    low, high = low - over, high + over
    outline = np.concatenate([low, high[::-1]])
    return tuple(map(tuple, outline.tolist())), tuple(map(tuple, ((low + high) / 2).tolist()))


def _longer(edge: Array, row: int, inner: int, added: float) -> Array:
    run = edge[row] - edge[inner]
    point = edge[row] + run / np.hypot(*run) * added
    return np.concatenate([[point], edge] if row == 0 else [edge, [point]])


def parts_of_plank(plank: PlankDesign, *, rules: Rules = RULES, show: Show = "", book_matched: bool = False,
                   turn_over: bool = True) -> tuple[Part, ...]:  # fmt: skip
    """Return what a plank asks of the rack: its flat outline with ends and standing wood; one for each hand.

    The board that planking asks for is longer and wider than the finished plank by trimming, scarfs, and the wood
    outside the drawn face that standing bevels need: half of each is added at each end and edge. The margin that
    planking keeps clear of wane is not added again: it is `rules.edge_margin_mm`.

    A part is seen with its inside face up. So is a strake drawn for starboard; one drawn for port is seen through the
    plank, and a spiled plank as its batten lay, marked face out: these are turned over. A plank for both hands gives a
    part for each (marked P and S), the starboard one as it is drawn, or, book matched, one that is resawn into both.

    Raises
    ------
    BadBoard
        It is a panel, which is cut of sheets, or part of a plank that runs on past a nib.
    """
    if plank.pieces:
        raise BadBoard(f"it is a panel, cut of {len(plank.pieces)} sheets of plywood as its own sheet tells; no board "
                       "is wanted.")  # fmt: skip
    if any(cut.kind == "step" for cut in plank.cuts):
        raise BadBoard("it is part of a plank that runs on past a stealer's nib; draw its other part too, on the same "
                       "hand, and both are laid as one.")  # fmt: skip
    outline, run = _flat(plank)
    return _hands(plank, _part(plank.name, outline, run, (plank,), rules, show, turn_over, book_matched))


def parts_past_nib(one: PlankDesign, other: PlankDesign, *, rules: Rules = RULES, show: Show = "",
                   book_matched: bool = False, turn_over: bool = True) -> tuple[Part, ...]:  # fmt: skip
    """Return what a plank asks of the rack that takes a stealer's nib, drawn as two parts: `one` up to it, `other` on.

    The parts are laid frame line on frame line at the nib, corner on corner at the edge that does not step there.

    Raises
    ------
    BadBoard
        They do not meet at a nib.
    """
    if not meet_at_nib(one, other):
        raise BadBoard(f"{one.name} and {other.name} do not meet at a nib.")
    lower = _step(one, "last").edge == "upper"  # the edge that runs on
    corner, ray = _at(one, -1, lower)
    beside, turned = _at(other, 0, lower)
    turn = ray * turned.conjugate()

    def moved(points: Points) -> Points:
        z = (np.array(points) @ [1, 1j] - beside) * turn + corner
        return tuple(map(tuple, np.column_stack([z.real, z.imag]).tolist()))

    (first, run), (last, on) = _flat(one), _flat(other)
    whole = shapely.union_all(
        [Polygon(outline).buffer(_MEET_MM, join_style="mitre") for outline in (first, moved(last))]
    )
    if not isinstance(whole, Polygon):
        raise BadBoard(f"{one.name} and {other.name} do not meet at a nib.")
    outline = tuple((float(x), float(y)) for x, y in whole.exterior.coords[:-1])
    name = f"{one.name}{PAST_NIB}{other.name}"
    return _hands(one, _part(name, outline, (*run, *moved(on)[1:]), (one, other), rules, show, turn_over, book_matched))


def meet_at_nib(one: PlankDesign, other: PlankDesign) -> bool:
    """Whether a plank ends where another goes on past a stealer's nib."""
    end, start = _step(one, "last"), _step(other, "first")
    if end is None or start is None or one.side != other.side or end.edge != start.edge:
        return False
    here, there = (float(np.hypot(*(plank.upper_mm[at] - plank.lower_mm[at]))) for plank, at in ((one, -1), (other, 0)))
    at_one_frame = getattr(one.choice, "last", "") == getattr(other.choice, "first", "")
    return at_one_frame and end.deep_mm * start.deep_mm < 0 and abs(there - here - start.deep_mm) < 1.0


def _step(plank: PlankDesign, end: str) -> Any:
    return next((step for step in getattr(plank.choice, "steps", ()) if step.end == end), None)


def _at(plank: PlankDesign, end: int, lower: bool) -> tuple[complex, complex]:
    """One corner of an end, and the direction of the end's line from it to the other."""
    low, high = (complex(*edge[end]) for edge in (plank.lower_mm, plank.upper_mm))
    corner, other = (low, high) if lower else (high, low)
    return corner, (other - corner) / abs(other - corner)


def _flat(plank: PlankDesign) -> tuple[Points, Points]:
    """Outline and run with wood for ends and standing bevels; none at an end past which the plank runs on."""
    ends = max(plank.board.length_mm - plank.board.plank_length_mm, 0) / 2
    margin = float(getattr(plank.choice, "wany_margin_mm", 0.0))
    strip = least_strip(plank.outline_mm)[0]
    standing = max(plank.board.width_mm - 2 * margin - strip, 0.0)
    plain, _ = between_edges(plank.lower_mm, plank.upper_mm, step=_STEP)
    # What the chords between the points taken cut off a full edge is put back, and half as much again, since it is
    # added across the plank and lost square to its edge.
    cut_off = float(shapely.distance(shapely.points(plank.outline_mm), Polygon(plain)).max())
    first, last = (0.0 if _step(plank, end) else ends for end in ("first", "last"))
    return between_edges(plank.lower_mm, plank.upper_mm, first_mm=first, last_mm=last, step=_STEP,
                         edge_mm=standing + 3 * cut_off)  # fmt: skip


def _part(name: str, outline: Points, run: Points, planks: tuple[PlankDesign, ...], rules: Rules, show: Show,
          turn_over: bool, book_matched: bool) -> Part:  # fmt: skip
    return Part(name, outline, max(plank.stock_thickness_mm for plank in planks), run=run, show=show,
                turn_over=turn_over, rules=rules, book_matched=book_matched and planks[0].side == "",
                timber=str(getattr(planks[0].choice, "timber", "")))  # fmt: skip


def _hands(plank: PlankDesign, drawn: Part) -> tuple[Part, ...]:
    if plank.side:
        seen_from_outside = plank.kind == "spiled" or plank.side == "P"
        return (mirrored(drawn) if seen_from_outside else drawn,)
    if drawn.book_matched:
        return (drawn,)
    return (replace(mirrored(drawn), name=f"{drawn.name} P"), replace(drawn, name=f"{drawn.name} S"))


def parts_meant(part: str) -> tuple[str, ...]:
    """Return a part's name; of one that is drawn as two parts, the name of each.

    Examples
    --------
    >>> parts_meant("garboard P"), parts_meant("strake 4 + strake 4 aft P")
    (('garboard P',), ('strake 4 P', 'strake 4 aft P'))
    """
    bare = part.removesuffix(" P").removesuffix(" S")
    return tuple(name + part[len(bare) :] for name in bare.split(PAST_NIB))


def mirrored(part: Part) -> Part:
    """Return the part of the other hand."""
    return replace(part, outline=_flipped(part.outline)[::-1], run=_flipped(part.run))


def _flipped(points: Iterable[tuple[float, float]]) -> Points:
    return tuple((x, -y) for x, y in points)

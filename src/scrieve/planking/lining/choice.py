"""What the builder chose for lining off: the region, kept seams, limits of width, widths he has set, stealers."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import MISSING, dataclass, fields
from typing import Any, Literal, TypeVar

from scrieve.boat import Side
from scrieve.errors import BadPlank
from scrieve.planking.choice import SeamMark
from scrieve.planking.clinker import LAP_TO_THICKNESS, LEFT_SHARE

Rule = Literal["equal", "by curvature", "as set"]
End = Literal["first", "last"]
RULES: tuple[Rule, ...] = ("equal", "by curvature", "as set")

_T = TypeVar("_T")


@dataclass(frozen=True, slots=True)
class KeptSeam:
    """A seam that stands on the hull and is kept exactly: its marks, and the strake below it (counted from below).

    `below` may be 0 (not known): then the number of strakes on each side of it is proposed.
    """

    name: str
    marks: tuple[SeamMark, ...]
    below: int = 0


@dataclass(frozen=True, slots=True)
class SetWidths:
    """Widths of the strakes along one frame, lowest first, as the builder wants them [mm]; None leaves one free."""

    frame: str
    widths_mm: tuple[float | None, ...]


@dataclass(frozen=True, slots=True)
class PlaceLimit:
    """Limits of width that hold from frame `first` to frame `last`, for strakes `lowest` to `highest` (0: all) [mm]."""

    first: str = ""
    last: str = ""
    lowest: int = 0
    highest: int = 0
    narrowest_mm: float | None = None
    widest_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Stealer:
    """A strake that ends within the run.

    `strake` is its number from below, `end` the end of the region that it does not reach, `frame` where it stops with
    a nib of `nib_mm`.
    """

    strake: int
    end: End
    frame: str
    nib_mm: float


@dataclass(frozen=True, slots=True)
class LiningChoice:
    """How a side, or the region between two seams, is to be lined off; plain values that can be kept as JSON.

    Without marks `lower` is the rabbet and `upper` the sheer. `frames` names the frames (or stations) at which seams
    are marked; blank: all the hull has in the region, and the region's two ends. `strakes` 0: a number is proposed.
    Widths are girths, as a tape on the frame reads them. `rule` says how the girth is shared out before the lines are
    faired: 'equal' at each frame; 'by curvature', in proportion to the width that the stock allows there; 'as set', in
    proportion to `set_widths` (carried along from frame to frame). Set widths are held exactly under every rule.
    `widest_mm` is what the boards give; the frames' curvature sets its own limit: the plank is backed out, and
    `stock_mm` less `thickness_mm` and `planing_mm` is all there is to hollow (0: no such limit). `hold_mm` weighs the
    width pattern against fair lines: seams follow the pattern in runs much longer than it (0: a tenth of the region).
    Stealers are held as given; `nib_mm` is the width of a nib that is not given (0: the plank's thickness).
    `hull` tells whose marks the hull is faired from: both sides as one, or one side's own.
    `build` 'clinker': a seam is the upper edge of its strake, widths are what shows between seams, a board gives
    `lap_mm` less (0: twice the thickness), and in place of backing out the land's thickness is the limit by curvature.
    """

    name: str
    side: Side = ""
    lower: tuple[SeamMark, ...] = ()
    upper: tuple[SeamMark, ...] = ()
    kept: tuple[KeptSeam, ...] = ()
    first: str = ""
    last: str = ""
    frames: tuple[str, ...] = ()
    strakes: int = 0
    rule: Rule = "equal"
    set_widths: tuple[SetWidths, ...] = ()
    narrowest_mm: float = 60.0
    widest_mm: float = 180.0
    end_narrowest_mm: float = 40.0
    limits: tuple[PlaceLimit, ...] = ()
    thickness_mm: float = 25.0
    stock_mm: float = 0.0
    planing_mm: float = 3.0
    hold_mm: float = 0.0
    stealers: tuple[Stealer, ...] = ()
    nib_mm: float = 0.0
    note: str = ""
    hull: Literal["both", "port", "starboard"] = "both"
    build: Literal["carvel", "clinker"] = "carvel"
    lap_mm: float = 0.0

    def __post_init__(self) -> None:
        where = f"lining {self.name!r}"
        if not self.name.strip():
            raise BadPlank("the lining has no name; give it one, such as 'starboard side'.")
        if self.side not in ("P", "S", ""):
            raise BadPlank(f"{where}, side: found {self.side!r}; say P, S or leave it blank (the pair).")
        if self.hull not in ("both", "port", "starboard"):
            raise BadPlank(f"{where}, made from: found {self.hull!r}; say both, port or starboard.")
        if self.side and self.hull != "both" and self.hull[0].upper() != self.side:
            own = "port" if self.side == "P" else "starboard"
            raise BadPlank(f"{where}: {own} is not lined off on {self.hull}'s own marks; say both or {own}.")
        if self.rule not in RULES:
            raise BadPlank(f"{where}, rule: found {self.rule!r}; say one of {', '.join(RULES)}.")
        if self.rule == "as set" and not self.set_widths:
            raise BadPlank(f"{where}: the rule is 'as set', but no widths are set; give them at one frame or more.")
        if not (isinstance(self.strakes, int) and 0 <= self.strakes <= 60):
            raise BadPlank(f"{where}, strakes: found {self.strakes!r}; give 1 to 60, or 0 for a proposal.")
        for name in ("narrowest_mm", "widest_mm", "end_narrowest_mm", "thickness_mm"):
            _above(where, name, getattr(self, name))
        for name in ("stock_mm", "planing_mm", "nib_mm", "hold_mm", "lap_mm"):
            _above(where, name, getattr(self, name), least=0.0)
        if self.build not in ("carvel", "clinker"):
            raise BadPlank(f"{where}, build: found {self.build!r}; say carvel or clinker.")
        if self.build == "clinker" and self.narrowest_mm >= self.widest_shown_mm:
            raise BadPlank(
                f"{where}: boards of {self.widest_mm:g} mm less a lap of {self.lap:g} mm show {self.widest_shown_mm:g} "
                f"mm, not more than the narrowest, {self.narrowest_mm:g} mm; change one."
            )
        if self.narrowest_mm >= self.widest_mm:
            raise BadPlank(
                f"{where}: narrowest {self.narrowest_mm:g} mm is not under widest {self.widest_mm:g} mm; change one."
            )
        if self.end_narrowest_mm > self.narrowest_mm:
            raise BadPlank(
                f"{where}: narrowest at the ends, {self.end_narrowest_mm:g} mm, is over the narrowest elsewhere, "
                f"{self.narrowest_mm:g} mm; change one."
            )
        if self.stock_mm and self.stock_mm <= self.thickness_mm + self.planing_mm:
            raise BadPlank(
                f"{where}: stock of {self.stock_mm:g} mm leaves nothing to back out of a {self.thickness_mm:g} mm "
                f"plank with {self.planing_mm:g} mm of planing; give thicker stock, or 0 for no such limit."
            )

    @property
    def hollow_mm(self) -> float:
        """Depth there is to back out; infinite where no stock is given, and for clinker, which is not backed out."""
        limited = self.stock_mm and self.build == "carvel"
        return self.stock_mm - self.thickness_mm - self.planing_mm if limited else math.inf

    @property
    def land_rad(self) -> float:
        """Most that a clinker strake may turn inboard from the one below it, half of whose thickness is left at the
        land; infinite for carvel [rad]."""
        return math.atan(LEFT_SHARE * self.thickness_mm / self.lap) if self.build == "clinker" else math.inf

    @property
    def lap(self) -> float:
        """Width of the lap of clinker strakes; 0 for carvel [mm]."""
        if self.build == "carvel":
            return 0.0
        return self.lap_mm or LAP_TO_THICKNESS * self.thickness_mm

    @property
    def widest_shown_mm(self) -> float:
        """Widest strake from seam to seam: what the boards give, less the lap [mm]."""
        return self.widest_mm - self.lap

    @classmethod
    def from_mapping(cls, given: Mapping[str, Any]) -> LiningChoice:
        """Read a choice from plain values such as `dataclasses.asdict` gives; raise BadPlank for what is not one."""
        values = known(cls, given)
        for name in ("lower", "upper"):
            values[name] = _many(SeamMark, values.get(name, ()))
        kept = [known(KeptSeam, seam) for seam in _rows(values.get("kept", ()))]
        values["kept"] = tuple(KeptSeam(**{**seam, "marks": _many(SeamMark, seam["marks"])}) for seam in kept)
        set_widths = [known(SetWidths, row) for row in _rows(values.get("set_widths", ()))]
        values["set_widths"] = tuple(SetWidths(row["frame"], tuple(row["widths_mm"])) for row in set_widths)
        values["limits"] = _many(PlaceLimit, values.get("limits", ()))
        values["stealers"] = _many(Stealer, values.get("stealers", ()))
        values["frames"] = tuple(str(frame) for frame in values.get("frames", ()))
        return cls(**values)


def known(kind: type, given: Any) -> dict[str, Any]:
    """Plain values for `kind`, its own fields only and none missing; raise BadPlank otherwise."""
    if isinstance(given, kind):
        return {field.name: getattr(given, field.name) for field in fields(kind)}
    if not isinstance(given, Mapping):
        raise BadPlank(f"{kind.__name__}: found {given!r}; give named values.")
    names = {field.name: field.default is MISSING for field in fields(kind)}
    if strange := sorted(set(given) - set(names)):
        raise BadPlank(f"{kind.__name__}: no value is called {strange[0]!r}; known are {', '.join(sorted(names))}.")
    if missing := [name for name, needed in names.items() if needed and name not in given]:
        raise BadPlank(f"{kind.__name__}: {missing[0]!r} is missing; give it.")
    return dict(given)


def _rows(given: Any) -> tuple[Any, ...]:
    if isinstance(given, str | Mapping):
        raise BadPlank(f"found {given!r}; give a list.")
    return tuple(given)


def _many(kind: type[_T], given: Any) -> tuple[_T, ...]:
    return tuple(kind(**known(kind, row)) for row in _rows(given))


def _above(where: str, name: str, value: object, least: float | None = None) -> None:
    number = isinstance(value, (int, float)) and not isinstance(value, bool) and math.isfinite(value)
    if not number or (value <= 0 if least is None else value < least):  # type: ignore[operator]
        words = name.removesuffix("_mm").replace("_", " ")
        raise BadPlank(
            f"{where}, {words}: {value} mm; give a value {'above zero' if least is None else 'of 0 or more'}."
        )

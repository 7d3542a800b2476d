"""What the builder chose or read off: seams of a strake, marks on a spiling batten. Plain values, kept as JSON."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import MISSING, dataclass, fields
from typing import Any, Literal

from scrieve.boat import Side
from scrieve.errors import BadPlank

Joint = Literal["butt", "scarf", "hood", "nib"]
SeamRule = Literal["metric", "inch"]
Edge = Literal["lower", "upper"]
Across = Literal["straight", "round"]
Build = Literal["carvel", "clinker", "panel"]


@dataclass(frozen=True, slots=True)
class SeamMark:
    """One point of a seam: at a frame (label) or a station, a height, half-breadth or girth from the heel; in mm."""

    value_mm: float
    kind: Literal["height", "half_breadth", "girth"] = "height"
    frame: str = ""
    station_mm: float | None = None


@dataclass(frozen=True, slots=True)
class PlankEnds:
    """How the two ends are finished.

    At a 'scarf' the plank runs on past the joint by half of (thickness − 2 nibs) × slope; `nib_mm` is squared off at
    both ends of it. A 'nib' is the blunt end of a stealer, or where the seam beside the plank steps at one.
    """

    first: Joint = "butt"
    last: Joint = "butt"
    scarf_slope: float = 12.0
    nib_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class Step:
    """An end at which the strake runs on past a stealer's nib, where its edge steps; each side of it is drawn apart.

    `deep_mm` is above zero where this is the wider part, which is notched so deep from `edge`; below zero where it is
    the narrower.
    """

    end: Literal["first", "last"]
    edge: Edge
    deep_mm: float


@dataclass(frozen=True, slots=True)
class StrakeChoice:
    """A strake between two seams, as the builder chose it; plain values that can be kept as JSON.

    `first` and `last` are frame labels, or stations in mm where the text is no label of this hull; blank runs the
    plank as far as both seams go. `across` says whether the plank lies straight across from seam to seam, hollowed to
    the frames (a solid plank), or bends to the hull both ways (a thin skin). The seams may be eased by `tolerance_mm`
    at each mark. `seam_opening_mm` (outside, both edges together) overrules `seam_rule`. Margins are shop defaults:
    `build` says how it is built: 'carvel', edge to edge; 'clinker', lapping its neighbour below by `lap_mm` (0: twice
    the thickness), the seams being the upper edges of the strakes; 'panel', plywood, which always bends to the hull,
    of sheets of `sheet_mm` (length, width) joined by `sheet_joint`, scarfs of the slope of `ends`.
    `planing_mm` for both faces together, `trim_mm` each end, `wany_margin_mm` each edge of the board.
    `hull` tells whose marks the hull it lies on is faired from: both sides as one, or one side's own. `steps` are the
    ends at which it runs on past a nib let into its edge.
    """

    name: str
    lower: tuple[SeamMark, ...]
    upper: tuple[SeamMark, ...]
    thickness_mm: float
    side: Side = ""
    first: str = ""
    last: str = ""
    across: Across = "straight"
    tolerance_mm: float = 0.0
    ends: PlankEnds = PlankEnds()
    seam_rule: SeamRule = "metric"
    seam_opening_mm: float | None = None
    planing_mm: float = 3.0
    trim_mm: float = 50.0
    wany_margin_mm: float = 10.0
    timber: str = ""
    note: str = ""
    build: Build = "carvel"
    lap_mm: float = 0.0
    sheet_mm: tuple[float, float] = (2440.0, 1220.0)
    sheet_joint: Literal["scarf", "butt block"] = "scarf"
    hull: Literal["both", "port", "starboard"] = "both"
    steps: tuple[Step, ...] = ()

    def __post_init__(self) -> None:
        _sound(self)
        for step in self.steps:
            if step.end not in ("first", "last") or step.edge not in ("lower", "upper") or not _number(step.deep_mm):
                raise BadPlank(f"plank {self.name!r}: found a step {step}; give end, edge, and depth in mm.")
        if self.hull not in ("both", "port", "starboard"):
            raise BadPlank(f"plank {self.name!r}, made from: found {self.hull!r}; say both, port or starboard.")
        for edge, marks in (("lower", self.lower), ("upper", self.upper)):
            for mark in marks:
                at = f"frame {mark.frame}" if mark.frame else f"station {mark.station_mm}"
                if not _number(mark.value_mm) or not (mark.station_mm is None or _number(mark.station_mm)):
                    raise BadPlank(
                        f"plank {self.name!r}, {edge} seam, {at}: found {mark.value_mm!r}; give lengths in mm."
                    )
        where = f"plank {self.name!r}"
        if self.build not in ("carvel", "clinker", "panel"):
            raise BadPlank(f"{where}, build: found {self.build!r}; say 'carvel', 'clinker' or 'panel'.")
        if not (_number(self.lap_mm) and self.lap_mm >= 0):
            raise BadPlank(f"{where}, lap: {self.lap_mm} mm; give zero (twice the thickness) or more.")
        if self.sheet_joint not in ("scarf", "butt block"):
            raise BadPlank(f"{where}, joint of sheets: found {self.sheet_joint!r}; say 'scarf' or 'butt block'.")
        if len(self.sheet_mm) != 2 or not all(_number(side) and side >= 300 for side in self.sheet_mm):
            raise BadPlank(f"{where}, sheet: found {self.sheet_mm}; give length and width, 300 mm or more each.")
        if self.across not in ("straight", "round"):
            raise BadPlank(f"plank {self.name!r}, across: found {self.across!r}; say 'straight' or 'round'.")

    @classmethod
    def from_mapping(cls, given: Mapping[str, Any]) -> StrakeChoice:
        """Read a choice from plain values such as `dataclasses.asdict` gives; raise BadPlank for what is not one."""
        values = _known(cls, given)
        for edge in ("lower", "upper"):
            marks = values[edge]
            values[edge] = tuple(m if isinstance(m, SeamMark) else SeamMark(**_known(SeamMark, m)) for m in marks)
        values["ends"] = _ends(values.get("ends"))
        if "sheet_mm" in values:
            values["sheet_mm"] = tuple(values["sheet_mm"])
        steps = values.get("steps", ())
        values["steps"] = tuple(one if isinstance(one, Step) else Step(**_known(Step, one)) for one in steps)
        return cls(**values)


@dataclass(frozen=True, slots=True)
class SpilingMark:
    """One mark on the spiling batten, in the batten's plane: x along its datum line, y square to it; in mm.

    `kind` is 'block' (a prick made along a block of width `opening_mm` held to the plank's edge), 'arc' (the centre
    of a compass of `opening_mm` whose other foot stood on the edge), 'offset' (the edge itself, written) or 'width'
    (a width `opening_mm` set off square to the lower edge at x); or 'nail', a nail or its hole in the frame, which lies
    on no edge. `point` tells apart several edge points of one frame.
    `side` says on which side of the marks the edge lies: 1 above, -1 below. `line` is the line of the file.
    """

    frame: str
    edge: Edge
    kind: Literal["block", "arc", "offset", "width", "nail"]
    x_mm: float
    y_mm: float
    opening_mm: float = 0.0
    side: Literal[1, -1] = 1
    point: str = ""
    line: int = 0


@dataclass(frozen=True, slots=True)
class SpilingBatten:
    """Everything read off one spiling batten."""

    marks: tuple[SpilingMark, ...]


@dataclass(frozen=True, slots=True)
class SpilingChoice:
    """A plank to be got out from spiling marks; plain values that can be kept as JSON.

    The edge is faired so that no point moves more than `tolerance_mm`; `keep` names points ('12 upper') the builder
    has looked at again and keeps although they stand out. `radius_mm` gives the frame's outside radius by frame label
    where the plank has to be backed out. `source` says whether the marks were made on a batten or come from a trace of
    the old plank or a template. The other fields are those of `StrakeChoice`.
    """

    name: str
    thickness_mm: float
    side: Side = ""
    tolerance_mm: float = 1.0
    keep: tuple[str, ...] = ()
    radius_mm: tuple[tuple[str, float], ...] = ()
    source: Literal["batten", "trace"] = "batten"
    ends: PlankEnds = PlankEnds()
    seam_rule: SeamRule = "metric"
    seam_opening_mm: float | None = None
    planing_mm: float = 3.0
    trim_mm: float = 50.0
    wany_margin_mm: float = 10.0
    timber: str = ""
    note: str = ""

    def __post_init__(self) -> None:
        _sound(self)
        if self.source not in ("batten", "trace"):
            raise BadPlank(f"plank {self.name!r}, source: found {self.source!r}; say 'batten' or 'trace'.")
        for label, radius in self.radius_mm:
            if not (_number(radius) and radius > 0):
                raise BadPlank(f"plank {self.name!r}, radius at frame {label}: {radius:g} mm; give a value above zero.")

    @classmethod
    def from_mapping(cls, given: Mapping[str, Any]) -> SpilingChoice:
        """Read a choice from plain values such as `dataclasses.asdict` gives; raise BadPlank for what is not one."""
        values = _known(cls, given)
        values["keep"] = tuple(str(point) for point in values.get("keep", ()))
        radii = values.get("radius_mm", ())
        pairs = radii.items() if isinstance(radii, Mapping) else radii
        try:
            values["radius_mm"] = tuple((str(label), float(radius)) for label, radius in pairs)
        except (TypeError, ValueError) as error:
            raise BadPlank(f"radius_mm: found {radii!r}; give pairs of frame and radius in mm.") from error
        values["ends"] = _ends(values.get("ends"))
        return cls(**values)


def _known(kind: type, given: Mapping[str, Any]) -> dict[str, Any]:
    if not isinstance(given, Mapping):
        raise BadPlank(f"{kind.__name__}: found {given!r}; give named values.")
    names = {field.name for field in fields(kind)}
    if strange := sorted(set(given) - names):
        raise BadPlank(f"{kind.__name__}: no value is called {strange[0]!r}; known are {', '.join(sorted(names))}.")
    if missing := [field.name for field in fields(kind) if field.name not in given and field.default is MISSING]:
        raise BadPlank(f"{kind.__name__}: {missing[0]!r} is missing; give it.")
    return dict(given)


def _number(value: object) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool) and math.isfinite(value)


def _ends(given: Any) -> PlankEnds:
    if given is None or isinstance(given, PlankEnds):
        return given or PlankEnds()
    return PlankEnds(**_known(PlankEnds, given))


def _sound(choice: StrakeChoice | SpilingChoice) -> None:
    """Raise BadPlank where a value common to both kinds of choice cannot be."""
    where = f"plank {choice.name!r}"
    if not choice.name.strip():
        raise BadPlank("the plank has no name; give it one, such as 'garboard' or 'topside 3'.")
    if choice.side not in ("P", "S", ""):
        raise BadPlank(f"{where}, side: found {choice.side!r}; say P, S or leave it blank (the pair).")
    if not (_number(choice.thickness_mm) and 0 < choice.thickness_mm < 500):
        raise BadPlank(f"{where}, thickness: {choice.thickness_mm} mm; give a value above 0, below 500 mm.")
    if choice.seam_rule not in ("metric", "inch"):
        raise BadPlank(f"{where}, seam rule: found {choice.seam_rule!r}; say 'metric' or 'inch'.")
    opening = 0.0 if choice.seam_opening_mm is None else choice.seam_opening_mm
    allowances = {
        "seam opening": opening,
        "tolerance": choice.tolerance_mm,
        "planing": choice.planing_mm,
        "trim": choice.trim_mm,
        "wany margin": choice.wany_margin_mm,
    }
    for name, value in allowances.items():
        if not (_number(value) and value >= 0):
            raise BadPlank(f"{where}, {name}: {value} mm; give zero or more.")
    for end, joint in (("first", choice.ends.first), ("last", choice.ends.last)):
        if joint not in ("butt", "scarf", "hood", "nib"):
            raise BadPlank(f"{where}, {end} end: found {joint!r}; say 'butt', 'scarf', 'hood' or 'nib'.")
    nib = choice.ends.nib_mm
    if not (_number(nib) and 0 <= nib < choice.thickness_mm / 2):
        raise BadPlank(f"{where}, nib of a scarf: {nib} mm; give zero or more, under half of the thickness.")
    if "scarf" in (choice.ends.first, choice.ends.last) and not (
        _number(choice.ends.scarf_slope) and 4 <= choice.ends.scarf_slope <= 40
    ):
        raise BadPlank(f"{where}, scarf: slope {choice.ends.scarf_slope}:1; give 4 to 40 (8 and 12 are usual).")

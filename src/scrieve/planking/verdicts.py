"""What to say of a plank: figures held against limits, figures with their working, and the cautions of the sheet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import degrees

import numpy as np

from scrieve.boat import Side
from scrieve.planking.board import Board
from scrieve.planking.choice import SpilingChoice, StrakeChoice
from scrieve.planking.clinker import LEFT_SHARE, Land
from scrieve.planking.edges import SEAM_SOURCE
from scrieve.planking.expansion import Expansion
from scrieve.planking.panel import BLOCK_SOURCE, SheetJoint, SheetPiece
from scrieve.planking.plank import PlankFrame, SpilingRemark
from scrieve.planking.seams import Hull, Strip, place
from scrieve.planking.spiling import LEAST_CROSSING_DEG, SpiledEdges, mirrored_crossings
from scrieve.timber.bending import steam_minutes
from scrieve.working import Check, Working

COMMON = "common practice, no source"
SHOP = "shop default, no source; change to suit"
DERIVED = "derived: docs/planking.md"
ARMY = "TB 55-1900-201-45/1, paragraph 2-12"

#: 1/8 in, and 5 in: the shop's limit of edge-set over ten feet, and the width up to which it holds. A wider plank is
#: allowed so much less that the strain in its edge is no greater.
EDGE_SET_LIMIT_MM = 3.175
EDGE_SET_WIDTH_MM = 127.0
STRAIN_LIMIT = 1e-3
TWIST_LIMIT_DEG_PER_M = 10.0
DRY_BEND = 125.0
HOLLOW_SHARE = 0.25
END_SHARE = 1 / 3
SHORTEST_MM = 1524.0
SHORTEST_SPACES = 6
BUTT_CLEAR_MM = 50.0
#: A seam this near a knuckle, as a share of the girth, runs along it.
ON_A_SEAM = 0.01

_PAIR = "the starboard plank seen from inboard; turned over, the port plank seen from inboard"
DRAWN_STRAKE: dict[Side, str] = {
    "S": "inside face, lying on the frames: as seen from inboard, the last end to the right",
    "P": "inside face, lying on the frames, drawn as seen through the plank from outboard: turn the pattern over to "
    "mark the inside face",
    "": f"inside face, lying on the frames: {_PAIR}",
}
DRAWN_SPILED = "as the batten lay: its marked face towards you, x running as on the batten"
DRAWN_TRACED = "the face that was traced, as it was traced, turned so that its length lies along the datum line"

DUST = (
    "Wood dust harms lungs and can sensitise; hardwood dust is a carcinogen: extraction and a mask, no dry sweeping. "
    "Assume old paint holds lead until tested."
)
SURVEYOR = (
    "Length and butts of a new plank in an old hull are to be agreed with a surveyor or naval architect; class or flag "
    "rules come first. Leave enough planks on to hold the hull's shape."
)
CUT = "Cut outside the line, offer up, then plane to fit. A pattern is no better than the marks it came from."
STEAM = "Steam burns: gloves, a drain at the low end, a vent never blocked, a loose door. Go straight to the boat."


@dataclass(frozen=True, slots=True, eq=False)
class Facts:
    """What was found of a strake before the verdicts; lengths in mm."""

    hull: Hull
    strip: Strip
    flat: Expansion
    hollow_mm: float
    opening_mm: float
    longer_mm: float
    standing_mm: float

    @property
    def spaces(self) -> float:
        """Length of the plank in spaces between the hull's marked frames, parts of a space counted."""
        stations = sorted(self.hull.stations.values())
        if not stations:
            return 0.0
        ends = np.interp([self.strip.first_mm, self.strip.last_mm], stations, np.arange(len(stations)))
        return float(ends[1] - ends[0])

    @property
    def knuckle_at(self) -> str:
        """Where a knuckle of the hull first runs between the two seams; empty where none does."""
        x = np.linspace(self.strip.first_mm, self.strip.last_mm, 101)
        lower, upper = self.strip.lower(x), self.strip.upper(x)
        knuckles_at = getattr(self.hull, "knuckles_at", lambda _: ())
        for here, low, high in zip(x.tolist(), lower + ON_A_SEAM, upper - ON_A_SEAM, strict=True):
            if any(low < share < high for share in knuckles_at(here)):
                return place(self.hull, here)
        return ""

    @property
    def twist_deg_per_m(self) -> float:
        """Twist over the length of the plank, whichever its hand."""
        return abs(degrees(self.flat.twist_rad)) / (sum(self.flat.flat_lengths_mm) / 2000)


def strake_checks(choice: StrakeChoice, facts: Facts, board: Board) -> tuple[Check, ...]:
    """Hold a strake against the shop's limits and the published rules."""
    flat, t = facts.flat, choice.thickness_mm
    set_limit = EDGE_SET_LIMIT_MM * min(1.0, EDGE_SET_WIDTH_MM / board.plank_width_mm)
    widths = [float(np.hypot(*(flat.upper_mm[i] - flat.lower_mm[i]))) for i in (0, -1)]
    ends = [wide for wide, joint in zip(widths, (choice.ends.first, choice.ends.last), strict=True) if joint != "nib"]
    radius = flat.bend_radius_mm
    strays = [
        f"{edge} at {where}"
        for edge, seam in (("lower", facts.strip.lower), ("upper", facts.strip.upper))
        for where in seam.suspects
    ]
    length = sum(flat.flat_lengths_mm) / 2
    found = [
        Check(
            "Edge-set in ten feet",
            f"{flat.edge_set_ten_feet_mm:.1f} mm",
            f"{set_limit:.1f} mm (1/8 in up to 5 in wide, less as a plank is wider)",
            flat.edge_set_ten_feet_mm <= set_limit,
            SHOP,
            "Narrower strakes or a stealer here; a plank forced edgewise splits at its fastenings and opens the seams.",
        ),
        Check(
            "Strain of laying it flat",
            f"{flat.strain_max * 100:.3f} %",
            f"{STRAIN_LIMIT * 100:.1f} %",
            flat.strain_max <= STRAIN_LIMIT,
            SHOP,
            "The hull is round both ways here: narrower strakes.",
        ),
        Check(
            "Bend along the plank",
            "straight" if np.isinf(radius) else f"radius {radius / 1000:.1f} m",
            f"radius {DRY_BEND * t / 1000:.1f} m ({DRY_BEND:.0f} × thickness) to hang dry",
            bool(radius >= DRY_BEND * t),
            "shop default, from R ≥ 125 t for softwood laminations (NDS); change to suit",
            "Steam this plank, or make it up of two thicknesses.",
        ),
        Check(
            "Twist",
            f"{facts.twist_deg_per_m:.1f}° in a metre",
            f"{TWIST_LIMIT_DEG_PER_M:.0f}° in a metre",
            facts.twist_deg_per_m <= TWIST_LIMIT_DEG_PER_M,
            SHOP,
            "Steam this plank, and choose straight grain.",
        ),
        Check(
            "Hollow of the inside",
            f"{facts.hollow_mm:.1f} mm" if facts.hollow_mm >= 0 else f"rounding of {-facts.hollow_mm:.1f} mm",
            f"{HOLLOW_SHARE * t:.1f} mm (a quarter of the thickness)",
            abs(facts.hollow_mm) <= HOLLOW_SHARE * t,
            SHOP,
            "Narrower strakes in the hard bilge, or thicker stock.",
        ),
        Check(
            "Width of the ends",
            " and ".join(f"{wide:.0f}" for wide in ends) + " mm" if ends else "both end in nibs",
            f"{END_SHARE * board.plank_width_mm:.0f} mm (a third of the greatest width)",
            min(ends, default=np.inf) >= END_SHARE * board.plank_width_mm,
            COMMON,
            "End it in a nib against its neighbour: a feather end holds no fastening.",
        ),
        Check(
            "Length of a new plank",
            f"{round(facts.spaces, 1):g} spaces between marked frames, {length / 1000:.2f} m",
            f"{SHORTEST_SPACES} frame spaces, and never under {SHORTEST_MM / 1000:.2f} m (5 ft)",
            facts.spaces >= SHORTEST_SPACES - 1e-6 and length >= SHORTEST_MM,
            ARMY,
            "Renew to the next butt.",
        ),
        Check(
            "Seam marks",
            ", ".join(strays) if strays else "fair",
            "no mark stands out from its neighbours",
            not strays,
            DERIVED,
            "Measure these again; the seam has been drawn through them as they stand.",
        ),
    ]
    if knuckle := facts.knuckle_at:
        found.append(
            Check(
                "Knuckle within the plank",
                knuckle,
                "a plank ends at a knuckle: its seam runs along it",
                False,
                DERIVED,
                "Lead a seam along the knuckle: no plank lies over one.",
            )
        )
    for end, joint, x in (
        ("first", choice.ends.first, facts.strip.first_mm),
        ("last", choice.ends.last, facts.strip.last_mm),
    ):
        if joint == "butt":
            near = min((abs(station - x) for station in facts.hull.stations.values()), default=np.inf)
            found.append(
                Check(
                    f"Butt at the {end} end",
                    place(facts.hull, x),
                    "between frames, on a butt block",
                    bool(near > BUTT_CLEAR_MM),
                    "TB 55-1900-201-45/1, paragraph 2-13a; massive framing is butted on the frame",
                    "Move the end between two frames, or scarf it.",
                )
            )
    return tuple(found)


def strake_workings(choice: StrakeChoice, facts: Facts, board: Board) -> tuple[Working, ...]:
    """How the figures of a strake came about."""
    flat = facts.flat
    true, laid = flat.true_lengths_mm, flat.flat_lengths_mm
    return (
        Working(
            "Edges",
            f"lower {laid[0]:.1f} mm, upper {laid[1]:.1f} mm",
            "flat shape X(u, w) with least ∫‖½(MᵀJᵀJM − I)‖² dA, where MᵀGM = I and G is the metric of the hull",
            (
                ("lower edge on the hull", f"{true[0]:.1f} mm"),
                ("upper edge on the hull", f"{true[1]:.1f} mm"),
                ("greatest strain", f"{flat.strain_max * 100:.4f} %"),
            ),
            DERIVED,
        ),
        Working(
            "Edge-set",
            f"{flat.edge_set_mm:.1f} mm in the whole length, {flat.edge_set_ten_feet_mm:.1f} mm in ten feet",
            "bow = ∬(κ on the hull − κ on the flat) ds ds off its chord, κ the edge's curvature within the surface",
            (("length", f"{max(laid):.0f} mm"),),
            DERIVED,
        ),
        _hollow_working(facts.hollow_mm, board.plank_width_mm),
        *_common_workings(choice, board, facts.hollow_mm, facts.opening_mm, facts.standing_mm),
        Working(
            "Longer by its thickness",
            f"{facts.longer_mm:.1f} mm",
            "t/2 × turn: the middle of the thickness keeps its length, the drawn inside face shortens as it is bent",
            (
                ("thickness", f"{choice.thickness_mm:g} mm"),
                ("turn", f"{degrees(2 * facts.longer_mm / choice.thickness_mm):.1f}°"),
            ),
            DERIVED,
            "Frame marks shift by as much from end to end: fix the middle first, cut the ends in place.",
        ),
    )


def land_checks(lands: Sequence[Land], thickness_mm: float) -> tuple[Check, ...]:
    """Hold the land of a clinker strake against the thickness it leaves."""
    if not lands:
        return ()
    least = min(lands, key=lambda land: land.left_mm)
    return (
        Check(
            "Thickness left at the land",
            f"{least.left_mm:.1f} mm at frame {least.frame}",
            f"{LEFT_SHARE * thickness_mm:.1f} mm (half of the thickness)",
            least.left_mm >= LEFT_SHARE * thickness_mm,
            SHOP,
            "Narrower strakes here, or a narrower lap.",
        ),
    )


def build_workings(
    choice: StrakeChoice,
    lap_mm: float,
    lands: Sequence[Land],
    joints: Sequence[SheetJoint],
    pieces: Sequence[SheetPiece],
) -> tuple[Working, ...]:
    """How the figures of laps and of sheets came about."""
    found = []
    if choice.build == "clinker":
        most = max((land.bevel_rad for land in lands), default=0.0)
        found.append(
            Working(
                "Lap and land",
                f"lap {lap_mm:.1f} mm, land bevelled up to {degrees(most):.1f}°",
                "depth at the edge = lap × tan(angle between this strake's face and the next one's, taken as wide)",
                (
                    ("thickness", f"{choice.thickness_mm:g} mm"),
                    ("lap", "as chosen" if choice.lap_mm else "twice the thickness"),
                ),
                "lap 2 × thickness: rule of thumb for clinker boats; land derived: docs/planking.md",
                "Run the land out to flush over the last foot of a hood end (common practice, no source).",
            )
        )
    if choice.build == "panel":
        kind = choice.sheet_joint
        inside = (("slope", f"{choice.ends.scarf_slope:g} : 1"),) if kind == "scarf" else ()
        found.append(
            Working(
                "Sheets",
                f"{len(pieces)} of {choice.sheet_mm[0]:.0f} × {choice.sheet_mm[1]:.0f} mm, {len(joints)} joint(s)",
                "fewest with n × sheet − (n − 1) × scarf ≥ panel + trim"
                if kind == "scarf"
                else "each sheet as far as the last bay it reaches; a block as thick as the panel fills the bay",
                (("joint", kind), ("thickness", f"{choice.thickness_mm:g} mm"), *inside),
                "8 : 1 for plywood: a maker of epoxy" if kind == "scarf" else BLOCK_SOURCE,
            )
        )
    return tuple(found)


def strake_cautions(choice: StrakeChoice, facts: Facts) -> tuple[str, ...]:
    """Cautions that belong on the sheet of this strake."""
    ends = np.array([facts.strip.first_mm, facts.strip.last_mm])
    said = [CUT]
    steam = facts.flat.bend_radius_mm < DRY_BEND * choice.thickness_mm
    if steam or facts.twist_deg_per_m > TWIST_LIMIT_DEG_PER_M:
        said.append(f"{STEAM} About {float(steam_minutes(choice.thickness_mm)):.0f} minutes for this thickness.")
    if np.any(facts.strip.lower(ends) < 1e-3):
        said.append("The lower edge lies in the rabbet: take its bevel from the rabbet, not from the table.")
    if np.any(facts.strip.upper(ends) > 1 - 1e-3):
        said.append("The upper edge is the sheer: its bevel follows the deck or the capping, not the table.")
    if "hood" in (choice.ends.first, choice.ends.last):
        said.append(
            "The rabbet's figures hold for the line from corner to corner of the hood end as it is drawn, and a side "
            "of the stem parallel to the centreplane: try a piece of the plank in it."
        )
    if choice.build == "panel":
        said.append("A panel is expanded as if it had no thickness; offer it up with the edges long.")
    return (*said, DUST, SURVEYOR)


def spiled_checks(
    choice: SpilingChoice, edges: SpiledEdges, residuals: Sequence[SpilingRemark], frames: Sequence[PlankFrame]
) -> tuple[Check, ...]:
    """Hold a spiled plank against the tolerance of its marks."""
    suspects = [remark for remark in residuals if remark.suspect]
    rest = [abs(remark.residual_mm) for remark in residuals if not remark.suspect]
    worst = max(rest, default=0.0)
    arcs = [point for point in (*edges.lower_points, *edges.upper_points) if point.kind == "arc"]
    found = [
        Check(
            "Points that stand out",
            ", ".join(f"{remark.point} by {remark.residual_mm:+.1f} mm" for remark in suspects) or "none",
            "no point stands out from its neighbours",
            not suspects,
            DERIVED,
            "The edge was drawn without them. Spile them again, or keep them.",
        ),
        Check(
            "Points off the fair edge",
            f"{worst:.1f} mm at most",
            f"{choice.tolerance_mm:.1f} mm",
            worst <= choice.tolerance_mm + 0.05,
            "the tolerance chosen",
            "Spile again where it is greatest.",
        ),
    ]
    if arcs:
        misses = [(max(map(abs, point.misses_mm)), point.name) for point in arcs if point.misses_mm]
        if misses:
            miss, name = max(misses)
            limit = max(choice.tolerance_mm, 0.5)
            found.append(
                Check(
                    "Arcs meet in a point",
                    f"{miss:.1f} mm apart at {name}",
                    f"{limit:.1f} mm",
                    miss <= limit,
                    "the tolerance chosen",
                    "Was the opening changed, or a centre pricked twice?",
                )
            )
        least = min(arcs, key=lambda point: point.crossing_deg or 0.0)
        crossing = least.crossing_deg or 0.0
        found.append(
            Check(
                "Crossing of the arcs",
                f"{crossing:.0f}° at {least.name}",
                f"{LEAST_CROSSING_DEG:.0f}°",
                crossing >= LEAST_CROSSING_DEG,
                SHOP,
                "Prick the centres further apart.",
            )
        )
        mirrored = mirrored_crossings(edges)
        found.append(
            Check(
                "Side of the arcs",
                ", ".join(mirrored) if mirrored else "every arc on the side that the other points lie on",
                "two arcs cross twice; the crossing taken lies with its neighbours",
                not mirrored,
                DERIVED,
                "The other crossing of these lies on the edge: change above or below in their rows, or look again at "
                "the centres.",
            )
        )
    hollows = [(frame.hollow_mm, frame.label) for frame in frames if frame.hollow_mm is not None]
    if hollows:
        depth, label = max(hollows)
        limit = HOLLOW_SHARE * choice.thickness_mm
        found.append(
            Check(
                "Hollow of the inside",
                f"{depth:.1f} mm at frame {label}",
                f"{limit:.1f} mm (a quarter of the thickness)",
                depth <= limit,
                SHOP,
                "Narrower strakes in the hard bilge, or thicker stock.",
            )
        )
    return tuple(found)


def spiled_workings(
    choice: SpilingChoice, board: Board, hollow_mm: float, opening_mm: float, frames: Sequence[PlankFrame]
) -> tuple[Working, ...]:
    """How the figures of a spiled plank came about."""
    deepest = max(
        (frame for frame in frames if frame.hollow_mm is not None),
        key=lambda frame: frame.hollow_mm or 0.0,
        default=None,
    )
    hollow = () if deepest is None else (_hollow_working(hollow_mm, deepest.width_mm),)
    return (*hollow, *_common_workings(choice, board, hollow_mm, opening_mm))


def spiled_cautions(choice: SpilingChoice, hollow_mm: float) -> tuple[str, ...]:
    """Cautions that belong on the sheet of a spiled plank."""
    told = {
        "batten": "The pattern is true only if the batten lay flat on the frames and was not sprung edgewise.",
        "trace": "An old plank has shrunk, worn at its edges and sprung since it was fitted: offer the pattern up "
        "before it is cut to.",
    }
    said = [CUT, told[choice.source]]
    if not choice.radius_mm:
        said.append("No frame radius was given: hollow and edge bevels are to be taken from the frames.")
    return (*said, DUST, SURVEYOR)


def _hollow_working(hollow_mm: float, width_mm: float) -> Working:
    radius = (width_mm**2 / 4 + hollow_mm**2) / (2 * abs(hollow_mm)) if abs(hollow_mm) > 1e-6 else np.inf
    return Working(
        "Backing out" if hollow_mm >= 0 else "Rounding of the inside",
        f"{abs(hollow_mm):.1f} mm",
        "r − √(r² − (w/2)²)",
        (
            ("radius across the plank", "straight" if np.isinf(radius) else f"{radius:.0f} mm"),
            ("width", f"{width_mm:.0f} mm"),
        ),
        DERIVED,
    )


def _common_workings(
    choice: StrakeChoice | SpilingChoice, board: Board, hollow_mm: float, opening_mm: float, standing_mm: float = 0.0
) -> tuple[Working, ...]:
    ruled = choice.seam_opening_mm is None
    scarfs = (choice.ends.first, choice.ends.last).count("scarf")
    scarf = ((f"{scarfs} scarf(s)", f"{choice.ends.scarf_slope:g} : 1"),) if scarfs else ()
    return (
        Working(
            "Stock thickness",
            f"{board.thickness_mm:.1f} mm",
            "thickness + hollow or rounding + planing",
            (
                ("thickness", f"{choice.thickness_mm:g} mm"),
                ("hollow or rounding", f"{abs(hollow_mm):.1f} mm"),
                ("planing, both faces", f"{choice.planing_mm:g} mm"),
            ),
            COMMON,
        ),
        Working(
            "Seam open outside",
            f"{opening_mm:.1f} mm, half off each edge; tight inside",
            "rule × thickness" if ruled else "as chosen",
            (("thickness", f"{choice.thickness_mm:g} mm"),),
            SEAM_SOURCE[choice.seam_rule] if ruled else "the builder's choice",
        ),
        Working(
            "Board",
            f"{board.length_mm:.0f} × {board.width_mm:.0f} × {board.thickness_mm:.0f} mm",
            "least strip that holds the outline, and margins",
            (
                ("plank", f"{board.plank_length_mm:.0f} mm long, {board.plank_width_mm:.0f} mm wide"),
                ("crown", f"{board.crown_mm:.0f} mm"),
                ("margin each edge", f"{choice.wany_margin_mm:g} mm"),
                ("for standing bevels", f"{standing_mm:.1f} mm"),
                ("trim each end", f"{choice.trim_mm:g} mm"),
                *scarf,
            ),
            COMMON,
        ),
    )

"""What to say of a plank: figures held against limits, figures with their working, and the cautions of the sheet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import degrees

import numpy as np

from scrieve.boat import Side
from scrieve.planking.board import Board
from scrieve.planking.choice import Build, SpilingChoice, StrakeChoice
from scrieve.planking.clinker import LEFT_SHARE, Land
from scrieve.planking.expansion import Expansion
from scrieve.planking.panel import BLOCK_SOURCE
from scrieve.planking.plank import PlankFrame, PlankNail, SpilingRemark
from scrieve.planking.seams import Hull, Strip, place
from scrieve.planking.spiling import LEAST_CROSSING_DEG, SpiledEdges, mirrored_crossings
from scrieve.timber.bending import steam_minutes
from scrieve.wording import by_itself, joined, length, metres, small, tell
from scrieve.working import Check

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
PANEL_SURVEYOR = (
    "Thickness, joints and fastenings of plywood in place of planks are to be agreed with a surveyor or naval "
    "architect; class or flag rules come first. Leave enough of the old skin on to hold the hull's shape."
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
    """Hold a strake against the shop's limits and the published rules; a panel of plywood against those that are its
    own, since it is neither steamed nor forced edgewise nor backed out."""
    panel = choice.build == "panel"
    found = [_strain(facts, panel), _twist(facts, panel)]
    if not panel:
        found = [_edge_set(facts, board), found[0], _bend(choice, facts), found[1]]
        if choice.build == "carvel":
            found.append(_hollow(choice, facts))
        found.append(_end_widths(choice, facts, board))
        if not choice.steps:  # at a step it runs on
            found.append(_length(facts))
    strays = [
        tell("{edge} at {where}", edge=edge, where=where)
        for edge, seam in (("lower", facts.strip.lower), ("upper", facts.strip.upper))
        for where in seam.suspects
    ]
    found.append(
        Check(
            "Seam marks",
            joined(strays) if strays else "fair",
            "no mark stands out from its neighbours",
            not strays,
            DERIVED,
            "Measure these again; the seam has been drawn through them as they stand.",
        )
    )
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
        if joint == "butt" and all(step.end != end for step in choice.steps):
            found.append(_butt(choice.build, end, x, facts.hull))
    return tuple(found)


def _edge_set(facts: Facts, board: Board) -> Check:
    limit = EDGE_SET_LIMIT_MM * min(1.0, EDGE_SET_WIDTH_MM / board.plank_width_mm)
    return Check(
        "Edge-set in ten feet",
        by_itself(small(facts.flat.edge_set_ten_feet_mm)),
        tell("{it} (1/8 in up to 5 in wide, less as a plank is wider)", it=small(limit)),
        facts.flat.edge_set_ten_feet_mm <= limit,
        SHOP,
        "Narrower strakes or a stealer here; a plank forced edgewise splits at its fastenings and opens the seams.",
    )


def _strain(facts: Facts, panel: bool) -> Check:
    return Check(
        "Strain of laying it flat",
        f"{facts.flat.strain_max * 100:.3f} %",
        f"{STRAIN_LIMIT * 100:.1f} %",
        facts.flat.strain_max <= STRAIN_LIMIT,
        SHOP,
        f"The hull is round both ways here: narrower {'panels' if panel else 'strakes'}.",
    )


def _bend(choice: StrakeChoice, facts: Facts) -> Check:
    radius, least = facts.flat.bend_radius_mm, DRY_BEND * choice.thickness_mm
    return Check(
        "Bend along the plank",
        "straight" if np.isinf(radius) else tell("radius {it}", it=metres(radius)),
        tell("radius {it} ({times:.0f} × thickness) to hang dry", it=metres(least), times=DRY_BEND),
        bool(radius >= least),
        "shop default, from R ≥ 125 t for softwood laminations (NDS); change to suit",
        "Steam this plank, or make it up of two thicknesses.",
    )


def _twist(facts: Facts, panel: bool) -> Check:
    return Check(
        "Twist",
        f"{facts.twist_deg_per_m:.1f}° in a metre",
        f"{TWIST_LIMIT_DEG_PER_M:.0f}° in a metre",
        facts.twist_deg_per_m <= TWIST_LIMIT_DEG_PER_M,
        SHOP,
        "Two thinner layers." if panel else "Steam this plank, and choose straight grain.",
    )


def _hollow(choice: StrakeChoice, facts: Facts) -> Check:
    limit = HOLLOW_SHARE * choice.thickness_mm
    return Check(
        "Hollow of the inside",
        tell("{it}" if facts.hollow_mm >= 0 else "rounding of {it}", it=small(abs(facts.hollow_mm))),
        tell("{it} (a quarter of the thickness)", it=small(limit)),
        abs(facts.hollow_mm) <= limit,
        SHOP,
        "Narrower strakes in the hard bilge, or thicker stock.",
    )


def _end_widths(choice: StrakeChoice, facts: Facts, board: Board) -> Check:
    widths = [float(np.hypot(*(facts.flat.upper_mm[i] - facts.flat.lower_mm[i]))) for i in (0, -1)]
    ends = [wide for wide, joint in zip(widths, (choice.ends.first, choice.ends.last), strict=True) if joint != "nib"]
    return Check(
        "Width of the ends",
        joined([by_itself(length(wide)) for wide in ends], " and ") if ends else "both end in nibs",
        tell("{it} (a third of the greatest width)", it=length(END_SHARE * board.plank_width_mm)),
        min(ends, default=np.inf) >= END_SHARE * board.plank_width_mm,
        COMMON,
        "End it in a nib against its neighbour: a feather end holds no fastening.",
    )


def _length(facts: Facts) -> Check:
    long = sum(facts.flat.flat_lengths_mm) / 2
    return Check(
        "Length of a new plank",
        tell("{n:g} spaces between marked frames, {it}", n=round(facts.spaces, 1), it=metres(long, 2)),
        tell("{n} frame spaces, and never under {it} (5 ft)", n=SHORTEST_SPACES, it=metres(SHORTEST_MM, 2)),
        facts.spaces >= SHORTEST_SPACES - 1e-6 and long >= SHORTEST_MM,
        ARMY,
        "Renew to the next butt.",
    )


def _butt(build: Build, end: str, x: float, hull: Hull) -> Check:
    near = min((abs(station - x) for station in hull.stations.values()), default=np.inf)
    between, at = bool(near > BUTT_CLEAR_MM), place(hull, x)
    if build == "panel":
        return Check(f"Butt of the panel at the {end} end", at, "between frames, in a flat spot", between, BLOCK_SOURCE,
                     "Move the end between two frames, or scarf it: 8 : 1 is usual for plywood.")  # fmt: skip
    if build == "clinker":
        return Check(f"Butt at the {end} end", at, "a scarf: a butt leaves the land open", False, COMMON,
                     "Scarf it, the outside lip pointing aft.")  # fmt: skip
    return Check(
        f"Butt at the {end} end",
        at,
        "between frames, on a butt block",
        between,
        "TB 55-1900-201-45/1, paragraph 2-13a; massive framing is butted on the frame",
        "Move the end between two frames, or scarf it.",
    )


def land_checks(lands: Sequence[Land], thickness_mm: float) -> tuple[Check, ...]:
    """Hold the land of a clinker strake against the thickness it leaves."""
    if not lands:
        return ()
    least = min(lands, key=lambda land: land.left_mm)
    return (
        Check(
            "Thickness left at the land",
            tell("{it} at frame {frame}", it=small(least.left_mm), frame=least.frame),
            tell("{it} (half of the thickness)", it=small(LEFT_SHARE * thickness_mm)),
            least.left_mm >= LEFT_SHARE * thickness_mm,
            SHOP,
            "Narrower strakes here, or a narrower lap.",
        ),
    )


def strake_cautions(choice: StrakeChoice, facts: Facts) -> tuple[str, ...]:
    """Cautions that belong on the sheet of this strake."""
    ends = np.array([facts.strip.first_mm, facts.strip.last_mm])
    said = [CUT]
    steam = facts.flat.bend_radius_mm < DRY_BEND * choice.thickness_mm
    panel = choice.build == "panel"
    if not panel and (steam or facts.twist_deg_per_m > TWIST_LIMIT_DEG_PER_M):
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
    if choice.steps:
        said.append(
            "This is part of a plank that runs on past a stealer's nib: lay the patterns of both parts end to end, "
            "frame line on frame line, and look for a board that holds them both. Fit the notch to the stealer itself."
        )
    if panel:
        said.append("A panel is expanded as if it had no thickness; offer it up with the edges long.")
    return (*said, DUST, PANEL_SURVEYOR if panel else SURVEYOR)


def nail_checks(nails: Sequence[PlankNail]) -> tuple[Check, ...]:
    """Nails pricked on the batten lie on the plank; nothing where none was pricked."""
    if not nails:
        return ()
    worst = min(nails, key=lambda nail: nail.to_edge_mm)
    where = tell("frame {it}", it=worst.frame) if worst.frame else tell("{it} along", it=small(worst.x_mm))
    return (
        Check(
            "Nails lie on the plank",
            tell("{where}: {it} {on} the nearest edge", where=where, it=small(abs(worst.to_edge_mm)),
                 on="within" if worst.to_edge_mm >= 0 else "past"),
            "none lies off it",
            worst.to_edge_mm >= 0,
            DERIVED,
            "Look at this nail's mark again: it was pricked from the next plank, or its offset is wrong.",
        ),
    )  # fmt: skip


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
            joined([tell("{point} by {it}", point=one.point, it=small(one.residual_mm)) for one in suspects]) or "none",
            "no point stands out from its neighbours",
            not suspects,
            DERIVED,
            "The edge was drawn without them. Spile them again, or keep them.",
        ),
        Check(
            "Points off the fair edge",
            tell("{it} at most", it=small(worst)),
            by_itself(small(choice.tolerance_mm)),
            worst <= choice.tolerance_mm + 0.05,
            "the tolerance chosen",
            "Spile again where it is greatest.",
        ),
    ]
    if arcs:
        met = [point for point in arcs if point.misses_mm]
        if met:
            widest = max(met, key=lambda point: max(map(abs, point.misses_mm)))
            miss = max(map(abs, widest.misses_mm))
            limit = max(choice.tolerance_mm, 0.5)
            found.append(
                Check(
                    "Arcs meet in a point",
                    tell(
                        "{it} apart at {name}; row by row {each}",
                        it=small(miss),
                        name=widest.name,
                        each=joined([by_itself(small(one)) for one in widest.misses_mm]),
                    ),
                    by_itself(small(limit)),
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
                tell("{it} at frame {label}", it=small(depth), label=label),
                tell("{it} (a quarter of the thickness)", it=small(limit)),
                depth <= limit,
                SHOP,
                "Narrower strakes in the hard bilge, or thicker stock.",
            )
        )
    return tuple(found)


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

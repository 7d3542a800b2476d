"""A plank, from the choice of its seams or its spiling marks to everything the bench needs."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, Point, Polygon

from scrieve.errors import BadPlank
from scrieve.planking.board import Board, board_for
from scrieve.planking.butts.end_cuts import cut_ends, cut_workings, nib_checks
from scrieve.planking.choice import (
    Edge,
    PlankEnds,
    SeamMark,
    SpilingBatten,
    SpilingChoice,
    SpilingMark,
    StrakeChoice,
)
from scrieve.planking.clinker import LAP_TO_THICKNESS, Ruled, in_rabbet, lands, lapped
from scrieve.planking.edges import (
    across,
    backing_out,
    edge_bevels,
    outgauge_angle,
    seam_opening,
    standing_wood,
    stock_thickness,
)
from scrieve.planking.expansion import Expansion, expand
from scrieve.planking.fair_edge import FairEdge
from scrieve.planking.panel import SheetJoint, SheetPiece, join_sheets, panel_checks
from scrieve.planking.plank import PlankDesign, PlankFrame, PlankNail, SpilingRemark
from scrieve.planking.rabbet import RabbetCut, edge_angles, hood_angles, rabbet_cut
from scrieve.planking.seams import Hull, Strip, girths, run_length, strake_strip
from scrieve.planking.skins.laid import SkinChoice, lay_skin
from scrieve.planking.spiling import SpiledEdges, spiled_edges
from scrieve.planking.verdicts import (
    DRAWN_SPILED,
    DRAWN_STRAKE,
    DRAWN_TRACED,
    Facts,
    land_checks,
    nail_checks,
    spiled_cautions,
    spiled_checks,
    strake_cautions,
    strake_checks,
)
from scrieve.planking.workings import build_workings, spiled_workings, strake_workings

Array = NDArray[np.float64]

__all__ = [
    "Board",
    "PlankDesign",
    "PlankEnds",
    "PlankFrame",
    "SeamMark",
    "SpilingBatten",
    "SpilingChoice",
    "SpilingMark",
    "SpilingRemark",
    "StrakeChoice",
    "design_plank",
    "design_spiled_plank",
]


def design_plank(hull: Hull, choice: StrakeChoice) -> PlankDesign:
    """Draw a strake of the fair hull flat, with everything the bench needs.

    Parameters
    ----------
    hull : Hull
        The fair hull: the face of the frames, on which the inside of the plank lies.
    choice : StrakeChoice
        Its seams, ends, thickness and margins.

    Raises
    ------
    BadPlank
        The seams cross, leave the hull, do not reach the ends, or no plank lies between them; the message says where.
    NoSuchFrame
        A frame named in the choice is not in this hull.
    """
    name = f"plank {choice.name!r}"
    for edge, marks in (("lower", choice.lower), ("upper", choice.upper)):
        if not marks:
            raise BadPlank(f"{name}: the {edge} seam has no marks; give its height or girth at two frames or more.")
    solid = choice.across == "straight" and choice.build != "panel"
    strip = strake_strip(hull, choice, straight=solid)
    skin = replace(strip, straight=False)
    lap = choice.lap_mm or LAP_TO_THICKNESS * choice.thickness_mm
    face = lapped(strip, lap, choice.thickness_mm, name) if choice.build == "clinker" else strip
    flat = expand(face)
    run = strip.last_mm - strip.first_mm
    at = {
        label: float((x - strip.first_mm) / run)
        for label, x in sorted(hull.stations.items(), key=lambda item: item[1])
        if strip.first_mm - 0.5 <= x <= strip.last_mm + 0.5
    }
    u = np.clip(np.array([*at.values()]), 0, 1)
    everywhere = np.linspace(0, 1, 41)
    opening = _opening(choice)
    outgauge = outgauge_angle(opening, choice.thickness_mm)
    frames: tuple[PlankFrame, ...] = ()
    if at:
        frames = _strake_frames(hull, skin, flat, tuple(at), u, outgauge, choice.build == "carvel", strip.straight)
    edged = choice.build == "carvel"  # planks lapped and panels have square edges
    standing = 0.0
    if edged:
        standing = sum(standing_wood(bevel - outgauge, choice.thickness_mm) for bevel in edge_bevels(skin, everywhere))
    _, hollows, _ = across(skin, everywhere)
    deepest = float(hollows[int(np.argmax(np.abs(hollows)))]) if solid and edged else 0.0
    land = lands(strip, face, tuple(at), u, lap, choice.thickness_mm, name) if isinstance(face, Ruled) else ()
    joints: tuple[SheetJoint, ...] = ()
    pieces: tuple[SheetPiece, ...] = ()
    if choice.build == "panel":
        joints, pieces = join_sheets(
            flat.lower_mm, flat.upper_mm, frames, sheet_mm=choice.sheet_mm, joint=choice.sheet_joint,
            thickness_mm=choice.thickness_mm, slope=choice.ends.scarf_slope, trim_mm=choice.trim_mm,
        )  # fmt: skip
    longer = choice.thickness_mm / 2 * _turn(flat)
    facts = Facts(
        hull=hull,
        strip=strip,
        flat=flat,
        hollow_mm=deepest,
        opening_mm=opening,
        longer_mm=longer,
        standing_mm=standing,
    )
    lower, upper, cuts = cut_ends(choice.ends, choice.thickness_mm, flat.lower_mm, flat.upper_mm, choice.steps)
    board = board_for(
        lower,
        upper,
        thickness_mm=stock_thickness(choice.thickness_mm, deepest, 0.0 if pieces else choice.planing_mm),
        ends_mm=2 * choice.trim_mm + max(longer, 0.0),
        margin_mm=choice.wany_margin_mm,
        standing_mm=standing,
    )
    return PlankDesign(
        name=choice.name,
        side=choice.side,
        kind="strake",
        thickness_mm=choice.thickness_mm,
        drawn=DRAWN_STRAKE[choice.side],
        lower_mm=lower,
        upper_mm=upper,
        frames=frames,
        board=board,
        seam_opening_mm=opening,
        lengths_mm=(
            flat.true_lengths_mm[0],
            flat.flat_lengths_mm[0],
            flat.true_lengths_mm[1],
            flat.flat_lengths_mm[1],
        ),
        strain_max=flat.strain_max,
        edge_set_mm=flat.edge_set_mm,
        twist_rad=flat.twist_rad,
        bend_radius_mm=flat.bend_radius_mm,
        residuals=(),
        checks=(
            *strake_checks(choice, facts, board),
            *nib_checks(cuts, choice.thickness_mm),
            *land_checks(land, choice.thickness_mm),
            *(panel_checks(pieces, choice.sheet_mm, choice.thickness_mm, flat.bend_radius_mm, flat.across_radius_mm)
              if pieces else ()),
        ),
        workings=(
            *strake_workings(choice, facts, board), *build_workings(choice, lap, land, joints, pieces),
            *cut_workings(cuts, choice.thickness_mm),
        ),
        cautions=strake_cautions(choice, facts),
        choice=choice,
        rabbets=_rabbets(choice, strip, face, tuple(at), u),
        lands=land,
        joints=joints,
        pieces=pieces,
        cuts=cuts,
    )  # fmt: skip


def plank_place(hull: Hull, choice: StrakeChoice | SpilingChoice | SkinChoice) -> tuple[Array, Array] | None:
    """Where a plank's edges lie on the hull, lower and upper (n, 3) [mm]; None for a spiled plank, which does not say.

    Raises
    ------
    BadPlank, NoSuchFrame
        As `design_plank`.
    """
    u = np.linspace(0, 1, 121)
    if isinstance(choice, SpilingChoice):
        return None
    if isinstance(choice, SkinChoice):
        cross = lay_skin(hull, choice).strip(choice.plank)
        return cross(u, np.zeros_like(u))[0], cross(u, np.ones_like(u))[0]
    strip = strake_strip(hull, choice)
    return strip(u, np.zeros_like(u))[0], strip(u, np.ones_like(u))[0]


def _rabbets(
    choice: StrakeChoice, strip: Strip, face: Strip | Ruled, labels: tuple[str, ...], u: Array
) -> tuple[RabbetCut, ...]:
    """The rabbet at hood ends, and at each frame along a lower edge that lies in it."""
    found: list[tuple[str, float]] = []
    for end, joint, where in ((0.0, choice.ends.first, "first"), (1.0, choice.ends.last, "last")):
        if joint == "hood":
            names = (f"{where} end, {part}" for part in ("lower edge", "middle", "upper edge"))
            found += zip(names, hood_angles(face, end), strict=True)
    if labels and in_rabbet(strip):
        found += [
            (f"frame {label}, keel", float(angle)) for label, angle in zip(labels, edge_angles(face, u), strict=True)
        ]
    return tuple(rabbet_cut(where, angle, choice.thickness_mm) for where, angle in found)


def design_spiled_plank(batten: SpilingBatten, choice: SpilingChoice) -> PlankDesign:
    """Draw a plank from its spiling marks, with what the bench needs of it.

    Parameters
    ----------
    batten : SpilingBatten
        The marks on the batten, in the batten's plane.
    choice : SpilingChoice
        Thickness, tolerance of fairing, margins, and the frames' radii where the plank is to be backed out.

    Raises
    ------
    BadPlank
        Too few marks, marks that give no point, or edges that cross; the message says where.
    """
    edges = spiled_edges(batten, tolerance_mm=choice.tolerance_mm, keep=choice.keep)
    lower, upper = (_sampled(edge) for edge in (edges.lower, edges.upper))
    origin = (lower[0] + upper[0]) / 2
    line = (lower[-1] + upper[-1]) / 2 - origin
    cos, sin = line / np.hypot(*line)
    turn = np.array([[cos, -sin], [sin, cos]])
    frames = _spiled_frames(edges, dict(choice.radius_mm), lambda points: (points - origin) @ turn)
    residuals = _residuals(edges)
    opening = _opening(choice)
    depths = [frame.hollow_mm for frame in frames if frame.hollow_mm is not None]
    hollow = max(depths, default=0.0)
    lower, upper = (lower - origin) @ turn, (upper - origin) @ turn
    true = run_length(lower), run_length(upper)
    lower, upper, cuts = cut_ends(choice.ends, choice.thickness_mm, lower, upper)
    nails = _nails(batten, lower, upper, lambda points: (points - origin) @ turn)
    board = board_for(
        lower,
        upper,
        thickness_mm=stock_thickness(choice.thickness_mm, hollow, choice.planing_mm),
        ends_mm=2 * choice.trim_mm,
        margin_mm=choice.wany_margin_mm,
    )
    return PlankDesign(
        name=choice.name,
        side=choice.side,
        kind="spiled",
        thickness_mm=choice.thickness_mm,
        drawn=DRAWN_TRACED if choice.source == "trace" else DRAWN_SPILED,
        lower_mm=lower,
        upper_mm=upper,
        frames=frames,
        board=board,
        seam_opening_mm=opening,
        lengths_mm=(None, true[0], None, true[1]),
        strain_max=None,
        edge_set_mm=None,
        twist_rad=None,
        bend_radius_mm=None,
        residuals=residuals,
        checks=(
            *spiled_checks(choice, edges, residuals, frames), *nail_checks(nails),
            *nib_checks(cuts, choice.thickness_mm),
        ),
        workings=(
            *spiled_workings(choice, board, hollow, opening, frames), *cut_workings(cuts, choice.thickness_mm),
        ),
        cautions=spiled_cautions(choice, hollow),
        choice=choice,
        cuts=cuts,
        nails=nails,
    )  # fmt: skip


def _nails(batten: SpilingBatten, lower: Array, upper: Array, place: Callable[[Array], Array]) -> tuple[PlankNail, ...]:
    """Nails pricked on the batten, and how far each lies within the nearest edge of the plank (n, 2), (n, 2)."""
    pricked = [mark for mark in batten.marks if mark.kind == "nail"]
    if not pricked:
        return ()
    plank = Polygon(np.concatenate([lower, upper[::-1]]))
    edges = [LineString(lower), LineString(upper)]
    found = []
    for mark, (x, y) in zip(pricked, place(np.array([[mark.x_mm, mark.y_mm] for mark in pricked])), strict=True):
        at = Point(x, y)
        off = min(at.distance(edge) for edge in edges)
        found.append(PlankNail(mark.frame, float(x), float(y), off if plank.covers(at) else -off))
    return tuple(sorted(found, key=lambda nail: nail.x_mm))


def _strake_frames(
    hull: Hull,
    skin: Strip,
    flat: Expansion,
    labels: tuple[str, ...],
    u: Array,
    outgauge: float,
    edged: bool,
    hollowed: bool,
) -> tuple[PlankFrame, ...]:
    low, high = flat.flat(u, 0.0), flat.flat(u, 1.0)
    bevels = [bevel - outgauge for bevel in edge_bevels(skin, u)]
    _, hollow, radius = across(skin, u)
    x = skin.station(u)
    v, there = girths(hull, x)
    seams = np.column_stack([skin.lower(x), skin.upper(x)])
    girth = [float(np.diff(np.interp(seams[i], v, there[i]))[0]) for i in range(len(labels))]
    return tuple(
        PlankFrame(
            label=label,
            station_mm=float(x[i]),
            lower_mm=(float(low[i, 0]), float(low[i, 1])),
            upper_mm=(float(high[i, 0]), float(high[i, 1])),
            width_mm=float(np.hypot(*(high[i] - low[i]))),
            lower_bevel_rad=float(bevels[0][i]) if edged else None,
            upper_bevel_rad=float(bevels[1][i]) if edged else None,
            hollow_mm=float(hollow[i]) if hollowed and edged else None,
            radius_mm=float(radius[i]),
            girth_mm=girth[i],
        )
        for i, label in enumerate(labels)
    )


def _spiled_frames(
    edges: SpiledEdges, radii: dict[str, float], place: Callable[[Array], Array]
) -> tuple[PlankFrame, ...]:
    at: dict[str, dict[Edge, float]] = {}
    for point in (*edges.lower_points, *edges.upper_points):
        if point.frame:
            at.setdefault(point.frame, {}).setdefault(point.edge, point.x_mm)
    if strange := sorted(set(radii) - set(at)):
        raise BadPlank(f"a radius is given for frame {strange[0]!r}, which has no spiling mark; the marked frames are "
                       f"{', '.join(at) or 'none'}.")  # fmt: skip
    frames = []
    for label, places in sorted(at.items(), key=lambda item: min(item[1].values())):
        ends = []
        for edge, line in (("lower", edges.lower), ("upper", edges.upper)):
            x = places.get(edge, next(iter(places.values())))  # type: ignore[call-overload]
            x = float(np.clip(x, line.x[0], line.x[-1]))
            ends.append([x, float(line(x))])
        (low, high) = place(np.array(ends))
        width = float(np.hypot(*(high - low)))
        radius = radii.get(label)
        frames.append(
            PlankFrame(
                label=label,
                station_mm=None,
                lower_mm=(float(low[0]), float(low[1])),
                upper_mm=(float(high[0]), float(high[1])),
                width_mm=width,
                lower_bevel_rad=None,
                upper_bevel_rad=None,
                hollow_mm=None if radius is None else float(backing_out(radius, width)),
                radius_mm=radius,
            )
        )
    return tuple(frames)


def _residuals(edges: SpiledEdges) -> tuple[SpilingRemark, ...]:
    found = []
    for points, line in ((edges.lower_points, edges.lower), (edges.upper_points, edges.upper)):
        square = line.residual_mm / np.hypot(1, line.slope(line.x))
        found += [
            SpilingRemark(point.name, point.edge, float(off), bool(suspect))
            for point, off, suspect in zip(points, square, line.suspect, strict=True)
        ]
    return tuple(found)


def _sampled(edge: FairEdge, count: int = 241) -> Array:
    x = np.linspace(edge.x[0], edge.x[-1], count)
    return np.column_stack([x, edge(x)])


def _turn(flat: Expansion) -> float:
    """Return the angle through which the plank is bent along its length, the hollow runs taken off [rad]."""
    steps = np.hypot(*np.diff((flat.lower_mm + flat.upper_mm) / 2, axis=0).T)
    return float(np.sum((flat.bend_along_per_mm[1:] + flat.bend_along_per_mm[:-1]) / 2 * steps))


def _opening(choice: StrakeChoice | SpilingChoice) -> float:
    if isinstance(choice, StrakeChoice) and choice.build != "carvel":
        return 0.0
    if choice.seam_opening_mm is not None:
        return choice.seam_opening_mm
    return seam_opening(choice.thickness_mm, choice.seam_rule)

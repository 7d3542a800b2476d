"""One plank of a diagonal skin drawn flat, with what the bench needs of it."""

from __future__ import annotations

from math import degrees

import numpy as np
from numpy.typing import NDArray

from scrieve.planking.board import Board, board_for
from scrieve.planking.expansion import FORMULA, Expansion, expand
from scrieve.planking.frame_line import PlankFrame
from scrieve.planking.plank import PlankDesign
from scrieve.planking.seams import Hull
from scrieve.planking.skins.laid import Skin, SkinChoice, SkinPlank, lay_skin
from scrieve.planking.verdicts import (
    CUT,
    DERIVED,
    DRY_BEND,
    DUST,
    EDGE_SET_LIMIT_MM,
    EDGE_SET_WIDTH_MM,
    SHOP,
    STRAIN_LIMIT,
    SURVEYOR,
    TWIST_LIMIT_DEG_PER_M,
)
from scrieve.wording import by_itself, length, metres, small, tell
from scrieve.working import Check, Working

Array = NDArray[np.float64]

_DRAWN = {
    "S": "inside face, lying on what is under it: as seen from inboard",
    "P": "inside face, drawn as seen through the plank from outboard: turn the pattern over to mark the inside face",
    "": "inside face of the starboard plank, seen from inboard; turned over, of the port plank",
}
#: A plank may be wider than chosen by this before a wider board is called for: the share planed off on the bench.
_WIDER = 1.1


def design_diagonal(hull: Hull, choice: SkinChoice) -> PlankDesign:
    """Draw one plank of a diagonal skin flat; its lower edge is the after one, its upper edge the forward one.

    Raises
    ------
    BadPlank
        The skin cannot be laid, or has no such plank.
    NoSuchFrame
        An end of the region is neither a frame nor a number.
    """
    skin = lay_skin(hull, choice)
    strip = skin.strip(choice.plank)
    plank = skin.planks[choice.plank - 1]
    flat = expand(strip)
    board = board_for(
        flat.lower_mm, flat.upper_mm, thickness_mm=choice.thickness_mm + choice.planing_mm, ends_mm=2 * choice.trim_mm,
        margin_mm=choice.wany_margin_mm,
    )  # fmt: skip
    return PlankDesign(
        name=choice.name, side=choice.side, kind="diagonal", thickness_mm=choice.thickness_mm,
        drawn=f"{_DRAWN[choice.side]}; lower end to the left, forward edge up",
        lower_mm=flat.lower_mm, upper_mm=flat.upper_mm, frames=_crossings(hull, skin, choice.plank, flat), board=board,
        seam_opening_mm=0.0,
        lengths_mm=(flat.true_lengths_mm[0], flat.flat_lengths_mm[0], flat.true_lengths_mm[1], flat.flat_lengths_mm[1]),
        strain_max=flat.strain_max, edge_set_mm=flat.edge_set_mm, twist_rad=flat.twist_rad,
        bend_radius_mm=flat.bend_radius_mm, residuals=(), checks=_checks(choice, plank, flat, board),
        workings=_workings(choice, skin, plank, flat), cautions=_cautions(plank), choice=choice,
        edge_names=("after", "forward"),
    )  # fmt: skip


def _crossings(hull: Hull, skin: Skin, number: int, flat: Expansion) -> tuple[PlankFrame, ...]:
    """Where the frames cross the plank; those that cross both its edges."""
    strip = skin.strip(number)
    u = np.linspace(0, 1, 401)
    found = []
    for label, x in hull.stations.items():
        at = []
        for curve in (strip.lower, strip.upper):
            off = curve(u)[:, 0] - x
            change = np.flatnonzero((off[:-1] <= 0) != (off[1:] <= 0))
            if change.size:
                i = int(change[0])
                at.append(float(u[i] - off[i] * (u[i + 1] - u[i]) / (off[i + 1] - off[i])))
        if len(at) == 2:
            low, high = flat.flat(at[0], 0.0), flat.flat(at[1], 1.0)
            found.append(
                PlankFrame(label, x, (float(low[0]), float(low[1])), (float(high[0]), float(high[1])),
                           float(np.hypot(*(high - low))), None, None, None, None)
            )  # fmt: skip
    return tuple(sorted(found, key=lambda frame: frame.lower_mm[0] + frame.upper_mm[0]))


def _checks(choice: SkinChoice, plank: SkinPlank, flat: Expansion, board: Board) -> tuple[Check, ...]:
    t, radius = choice.thickness_mm, flat.bend_radius_mm
    set_limit = EDGE_SET_LIMIT_MM * min(1.0, EDGE_SET_WIDTH_MM / board.plank_width_mm)
    twist = abs(degrees(flat.twist_rad)) / (plank.length_mm / 1000)
    return (
        Check("Edge-set in ten feet", by_itself(small(flat.edge_set_ten_feet_mm)),
              by_itself(small(set_limit)),
              flat.edge_set_ten_feet_mm <= set_limit, SHOP, "Narrower planks."),
        Check("Strain of laying it flat", f"{flat.strain_max * 100:.3f} %", f"{STRAIN_LIMIT * 100:.1f} %",
              flat.strain_max <= STRAIN_LIMIT, SHOP, "Narrower planks: the hull is round both ways here."),
        Check("Bend along the plank", "straight" if np.isinf(radius) else tell("radius {it}", it=metres(radius)),
              tell("radius {it} ({times:.0f} × thickness) to hang dry", it=metres(DRY_BEND * t), times=DRY_BEND),
              bool(radius >= DRY_BEND * t),
              "shop default, from R ≥ 125 t for softwood laminations (NDS); change to suit",
              "Thinner planks in more layers, a steeper or flatter angle, or steam."),
        Check("Twist", f"{twist:.1f}° in a metre", f"{TWIST_LIMIT_DEG_PER_M:.0f}° in a metre",
              twist <= TWIST_LIMIT_DEG_PER_M, SHOP, "Thinner planks in more layers."),
        Check("Width", tell("{least} to {most}", least=length(plank.least_mm), most=length(plank.greatest_mm)),
              tell("{it} at most", it=length(_WIDER * choice.width_mm)),
              plank.greatest_mm <= _WIDER * choice.width_mm, SHOP,
              "Put a tapered plank in beside it, or narrower planks."),
    )  # fmt: skip


def _workings(choice: SkinChoice, skin: Skin, plank: SkinPlank, flat: Expansion) -> tuple[Working, ...]:
    return (
        Working(
            "Diagonal skin",
            tell("{n} planks in layer {skin}, this one {it} long", n=len(skin.planks), skin=choice.skin,
                 it=length(plank.length_mm)),
            "seams are straightest lines (geodesics) of the hull, a width apart square to them halfway up",
            (("angle to the run of the strakes", f"{choice.angle_deg:g}°"),
             ("width halfway up", by_itself(length(choice.width_mm))),
             ("lies on", tell("the frames" if choice.skin == 1 else "a first layer of {it}",
                              it=small(choice.under_mm, None)))),
            DERIVED,
        ),
        Working(
            "Edges", tell("after {aft}, forward {fore}", aft=length(flat.flat_lengths_mm[0], 1),
                          fore=length(flat.flat_lengths_mm[1], 1)),
            FORMULA,
            (("after edge on the hull", by_itself(length(flat.true_lengths_mm[0], 1))),
             ("forward edge on the hull", by_itself(length(flat.true_lengths_mm[1], 1)))),
            DERIVED,
        ),
    )  # fmt: skip


def _cautions(plank: SkinPlank) -> tuple[str, ...]:
    corner = ("One end of this plank takes a corner of the region: leave it long there and cut it in place.",)
    return (
        CUT,
        *(corner if plank.corner else ()),
        "Stagger the seams of the second layer over those of the first; bed the layers as the makers of the bedding or "
        "the glue say.",
        DUST,
        SURVEYOR,
    )

"""A frame designed from a section of two straights and an arc, and a plank of plain figures: for the sheet tests."""

import numpy as np

from scrieve.boat import Boat
from scrieve.fairing.section import Section
from scrieve.frames.design import FrameChoice, FrameDesign, design_frame
from scrieve.planking.design import Board, PlankDesign, PlankFrame, SpilingRemark, StrakeChoice
from scrieve.working import Check, Working

MM, FT = Boat("Merganser"), Boat("Merganser", units="ft")


def section(label: str = "14") -> Section:
    """Bottom rising at 0.15 rad, a bilge that turns 1.3 rad over a metre with smooth ends, topside; 2.4 m of girth."""
    s = np.linspace(0, 2400, 2001)
    inside = (s > 700) & (s < 1700)
    curvature = np.where(inside, (1 - np.cos((s - 700) / 1000 * 2 * np.pi)) / 1000 * 1.3, 0.0)
    angle = 0.15 + np.concatenate([[0], np.cumsum((curvature[1:] + curvature[:-1]) / 2 * np.diff(s))])
    middle = (angle[1:] + angle[:-1]) / 2
    y = 60 + np.concatenate([[0], np.cumsum(np.cos(middle) * np.diff(s))])
    z = 200 + np.concatenate([[0], np.cumsum(np.sin(middle) * np.diff(s))])
    keep = slice(None, None, 5)
    s, y, z = s[keep], y[keep], z[keep]
    return Section(label, 7616.0, s, y, z, np.ones_like(s), 0.02 - 0.12 * np.sin(s / 900), curvature[keep])


def frame(label: str = "14", **settings) -> FrameDesign:
    values = {"frame": label, "timber": "sapele/larch", "waterlines_mm": (400.0, 800.0, 1200.0)} | settings
    return design_frame(section(label), FrameChoice(**values))


def plank(name: str = "topside 3", side: str = "P") -> PlankDesign:
    x = np.linspace(0, 4820, 200)
    lower = -70 + 45 * (x / 2410 - 1) ** 2
    upper = lower + 105 + 45 * np.sin(x / 4820 * np.pi)
    frames = []
    for n, at in enumerate(np.linspace(200, 4600, 9)):
        low, high = (float(np.interp(at, x, edge)) for edge in (lower, upper))
        frames.append(
            PlankFrame(
                str(10 + n), 5440 + 544.0 * n, (float(at), low), (float(at), high), high - low, 0.02, -0.01, 2.5, 600.0
            )
        )
    return PlankDesign(
        name=name,
        side=side,
        kind="strake",
        thickness_mm=28.0,
        drawn="inside face; as seen from inside the hull",
        lower_mm=np.column_stack([x, lower]),
        upper_mm=np.column_stack([x, upper]),
        frames=tuple(frames),
        board=Board(4920.0, 205.0, 34.0, -25.0, 0.01, 4820.0, 150.0),
        seam_opening_mm=1.8,
        lengths_mm=(4830.0, 4825.0, 4820.0, 4822.0),
        strain_max=0.0012,
        edge_set_mm=3.2,
        twist_rad=0.12,
        bend_radius_mm=5200.0,
        residuals=(SpilingRemark("12 upper", "upper", 1.2, True),),
        checks=(Check("strain", "0.12 %", "0.3 %", True, "common practice, no source"),),
        workings=(Working("board", "205 mm", "width + margins", (), "common practice, no source"),),
        cautions=("Steam scalds: gloves, and stand clear of the box's door.",),
        choice=StrakeChoice(name, (), (), 28.0, side=side, timber="larch"),
    )

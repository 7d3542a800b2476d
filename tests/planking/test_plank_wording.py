"""A builder who works in feet and inches reads no mm in what is said of a plank, however it is built."""

from dataclasses import replace

import pytest
from hulls import ConeHull, FramedWigley
from texts_within import texts

from scrieve.planking import (
    SeamMark,
    SkinChoice,
    SpilingBatten,
    SpilingChoice,
    SpilingMark,
    StrakeChoice,
    compare_planks,
    design_diagonal,
    design_plank,
    design_spiled_plank,
)
from scrieve.wording import in_units

FRAMES = [str(frame) for frame in range(9, 22)]
SEAMS = tuple(tuple(SeamMark(z, "height", frame) for frame in FRAMES) for z in (-500.0, -360.0))
STRAKE = StrakeChoice("topside 3", *SEAMS, 28.0)


def spiled():
    marks = [SpilingMark(frame.label, edge, "offset", x, y + (9.0 if (frame.label, edge) == ("14", "upper") else 0.0))
             for frame in design_plank(FramedWigley(), STRAKE).frames
             for edge, (x, y) in (("lower", frame.lower_mm), ("upper", frame.upper_mm))]  # fmt: skip
    arcs = [SpilingMark("13", "upper", "arc", x, 100.0, 260.0, side=1, point="13a") for x in (2000.0, 2180.0)]
    choice = SpilingChoice("spiled", 28.0, tolerance_mm=2.0, radius_mm=(("14", 900.0),))
    return design_spiled_plank(SpilingBatten((*marks, *arcs)), choice)


MADE = {
    "carvel": lambda: design_plank(FramedWigley(), STRAKE),
    "clinker": lambda: design_plank(FramedWigley(), replace(STRAKE, build="clinker")),
    "panel": lambda: design_plank(FramedWigley(), replace(STRAKE, build="panel", thickness_mm=9.0)),
    "diagonal": lambda: design_diagonal(ConeHull(), SkinChoice("inner", 12.0, angle_deg=45.0, width_mm=125.0, plank=4)),
    "spiled": spiled,
    "compared": lambda: compare_planks(spiled(), design_plank(FramedWigley(), STRAKE)),
}


@pytest.mark.parametrize("how", MADE)
def test_no_mm_for_one_who_works_in_feet(how):
    made = MADE[how]()
    said = (made.checks, made.workings)
    assert " mm" in " ".join(texts(said))
    assert [text for text in texts(in_units(said, "ft")) if " mm" in text] == []


def test_the_figures_are_the_same_length():
    """A plank 1 1/8 in (28.6 mm) thick may hollow by a quarter: 7.1 mm, 9/32 in."""
    made = design_plank(FramedWigley(), replace(STRAKE, thickness_mm=28.575))
    hollow = next(check for check in made.checks if check.name == "Hollow of the inside")
    assert hollow.limit == "7.1 mm (a quarter of the thickness)"
    assert in_units(hollow, "ft").limit == "9/32 in (a quarter of the thickness)"

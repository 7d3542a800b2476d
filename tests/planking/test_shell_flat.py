"""The shell on paper: strakes hatched by state, butts where they stand, breaches crossed, tables that agree."""

import numpy as np
import pytest
from hulls import ConeHull

from scrieve.planking import EndJoint, LiningChoice, line_off
from scrieve.sheets.drawing import Hatch, Polyline, Text
from scrieve.sheets.shell_flat import ShellPlank, lining_tables, shell_flat_drawing


@pytest.fixture(scope="module")
def lining():
    return line_off(ConeHull(), LiningChoice("side", narrowest_mm=60, end_narrowest_mm=50, widest_mm=300, strakes=10))


def test_strakes_are_hatched_by_state_and_lead_to_their_place(lining):
    drawing = shell_flat_drawing(lining, {2: "to be renewed", 3: "a plank", 4: "lined off"}, link=lambda n: f"/at/{n}")
    assert [item.style for item in drawing.items if isinstance(item, Hatch)] == ["diagonal", "cross"]
    links = {item.link for item in drawing.items if isinstance(item, Text) and item.layer == "FIGURES"}
    assert links == {f"/at/{n}" for n in range(1, 11)}
    names = [item for item in drawing.items if isinstance(item, Text) and item.link]
    first, last = lining.frames[0].x_mm, lining.frames[-1].x_mm
    assert all(first < name.at[0] < last for name in names), "strakes of a cone are widest on their end"


def test_planks_of_one_strake_are_each_hatched_by_their_state_and_lead_to_their_page(lining):
    first, last = lining.frames[0].x_mm, lining.frames[-1].x_mm
    third = (last - first) / 3
    planks = (
        ShellPlank("fore", 3, first, first + third, "cut", "/fore"),
        ShellPlank("after", 3, first + 2 * third, last, "a plank", "/after"),
    )
    drawing = shell_flat_drawing(lining, {3: "to be renewed"}, link=lambda n: f"/at/{n}", planks=planks)
    stretch = drawing.times[1]
    reach = {item.style: tuple(np.ptp(item.polygon, axis=0)) for item in drawing.items if isinstance(item, Hatch)}
    assert set(reach) == {"level", "cross", "diagonal"}  # cut, a plank, and what is left between them
    assert [reach[style][0] for style in ("level", "cross", "diagonal")] == pytest.approx([third] * 3)
    links = {item.link: item for item in drawing.items if isinstance(item, Polyline) and item.link}
    assert set(links) == {f"/at/{n}" for n in range(1, 11)} | {"/fore", "/after"}
    x, girth = links["/fore"].points[0]
    assert (x, girth / stretch) == pytest.approx((first, lining.girth_mm[2, 0]))


def test_butts_are_drawn_and_those_that_breach_are_crossed(lining):
    joints = (EndJoint(3, 2750.0), EndJoint(4, 2750.0), EndJoint(8, 1250.0))
    drawing = shell_flat_drawing(lining, joints=joints, breached=joints[:2])
    assert [float(item.points[0, 0]) for item in drawing.on_layer("JIG FACE")] == [2750.0, 2750.0, 1250.0]
    assert len(drawing.on_layer("MARKS")) == 4


def test_tables_agree_with_the_lining_in_either_unit(lining):
    tables = {table.name: table for table in lining_tables(lining)}
    assert [float(cell) for cell in tables["girth"].rows[3][1:]] == pytest.approx(lining.girth_mm[:, 3], abs=0.5)
    assert [float(cell) for cell in tables["widths"].rows[3][1:]] == pytest.approx(lining.width_mm[:, 3], abs=0.5)
    assert len(tables["fairness"].rows) == 9
    feet = {table.name: table for table in lining_tables(lining, "ft")}
    assert feet["girth"].rows[0][-1] == "6-2-1+"  # a quarter of a circle of 1200 mm: 1884.96 mm, 74.211 in

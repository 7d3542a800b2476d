"""SVG: well-formed XML 1.0 whatever the text, mm for mm, y turned over, links under the finger."""

import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest

from scrieve.errors import BadGeometry
from scrieve.sheets.drawing import Drawing, Line, Text, polyline
from scrieve.sheets.svg import HIT_PX, THIN_SHARE, page_svg, to_svg

from .conftest import NASTY

SVG = "{http://www.w3.org/2000/svg}"


def points_of(path: ET.Element) -> np.ndarray:
    return np.array([[float(v) for v in p.split()] for p in path.attrib["d"].strip("MZ").split("L")])


def test_full_size_is_one_unit_for_one_mm_with_y_turned_over():
    drawing = Drawing((polyline([(10, 20), (110, 20), (110, 70.1234)], "SEAM EDGE"),))
    root = ET.fromstring(to_svg(drawing))
    assert root.attrib["width"] == "100mm"
    assert root.attrib["height"] == "50.1234mm"
    assert root.attrib["viewBox"] == "0 0 100 50.1234"
    assert points_of(root.find(f".//{SVG}path")) == pytest.approx(np.array([(0, 50.1234), (100, 50.1234), (100, 0)]))


def test_a_scale_shrinks_the_drawing_but_not_its_line_weight():
    drawing = Drawing((Line((0, 0), (1000, 0), "MOULDED LINE"), Line((0, 0), (0, 100), "MOULDED LINE")))
    root = ET.fromstring(to_svg(drawing, one_to=10, margin_mm=3))
    assert root.attrib["width"] == "106mm"
    assert points_of(root.find(f".//{SVG}path")).tolist() == [[3, 13], [103, 13]]
    assert root.find(f"{SVG}g").attrib["stroke-width"] == "0.5"


@pytest.mark.parametrize("write", [to_svg, page_svg])
def test_any_text_survives(write):
    drawing = Drawing((Text((0, 0), NASTY, 5), Line((0, 0), (9, 9), "GRID", "/x?a=1&b=<2>", NASTY)), NASTY)
    root = ET.fromstring(write(drawing))
    said = root.find(f".//{SVG}text").text
    assert said.startswith("frame \"14\" <b>&amp; #let x = [*bold*] $y$ \\ 'q' ½ Ålesund 14%%d ^J �� � long")


def test_on_a_page_a_linked_line_has_a_wide_line_under_the_finger():
    root = ET.fromstring(page_svg(Drawing((polyline([(0, 0), (5, 9)], "SECTIONS", link="frames/14", title="14"),))))
    anchor = root.find(f".//{SVG}a")
    assert anchor.attrib["href"] == "frames/14"
    assert anchor.attrib["aria-label"] == "14"
    hit, line = anchor.findall(f"{SVG}path")
    assert hit.attrib["stroke-opacity"] == "0"
    assert float(hit.attrib["stroke-width"]) == HIT_PX >= 24
    assert hit.attrib["pointer-events"] == "stroke"
    assert {hit.attrib["vector-effect"], line.attrib["vector-effect"]} == {"non-scaling-stroke"}
    assert "width" not in root.attrib


def test_a_page_without_links_is_one_picture_with_a_name():
    root = ET.fromstring(page_svg(Drawing((Line((0, 0), (9, 9), "GRID"),), "the <sheer>")))
    assert root.attrib["role"] == "img"
    assert root.attrib["aria-label"] == "the <sheer>"


def test_a_link_that_could_run_something_is_refused():
    with pytest.raises(BadGeometry, match="link"):
        page_svg(Drawing((Line((0, 0), (9, 9), "GRID", link="javascript:alert(1)"),)))


def test_layers_lie_in_one_order_and_carry_their_class(hand):
    root = ET.fromstring(page_svg(hand))
    classes = [g.attrib["class"] for g in root.findall(f"{SVG}g")]
    assert classes.index("ly ly-hatching") < classes.index("ly ly-moulded-line") < classes.index("ly ly-text")


def test_on_a_page_a_single_shape_carries_its_own_name():
    named = polyline([(0, 50), (100, 50)], "SECTIONS", title="as <faired>")
    root = ET.fromstring(page_svg(Drawing((named, Line((0, 0), (100, 0), "SECTIONS")))))
    first, second = root.find(f"{SVG}g")
    assert (first.tag, [each.text for each in first], list(second)) == (f"{SVG}path", ["as <faired>"], [])


def test_a_page_is_sent_no_points_that_nobody_sees():
    """A circle of n points: its sagitta over every m-th is r (1 - cos(pi m / n)), below the share told."""
    turn = np.linspace(0, 2 * np.pi, 4001)
    drawing = Drawing((polyline(1000 * np.column_stack([np.cos(turn), np.sin(turn)]), "SECTIONS"),))
    (path,) = ET.fromstring(page_svg(drawing)).iter(f"{SVG}path")
    points = np.array([[float(x) for x in pair.split()] for pair in re.split("[ML]", path.get("d"))[1:]])
    assert len(points) < 4001 / 7
    side = 2000 * 1.04
    radius = np.hypot(*((points[1:] + points[:-1]) / 2 - side / 2).T)
    assert np.all(np.abs(radius - 1000) <= side * THIN_SHARE + 0.1)  # and as finely as it is written

"""The finished faces: true cut of the hull, end cuts, notches, the moulded table and bevels of the inner edge."""

from dataclasses import replace

import numpy as np
import pytest
from sections import circle, s_shape, section, straight
from shapely.geometry import Point, Polygon

from scrieve.errors import BadLamination
from scrieve.frames import FrameChoice, design_frame

LARCH = FrameChoice(frame="14", timber="larch", moulding_edge="fore", sided_mm=50.0, moulded_mm=60.0)


def area(ring):
    return Polygon(ring).area


def test_square_ends_enclose_the_frame():
    # closed form: an arc of R, 60 deep: θ (R² - (R - 60)²) / 2; the far face the same about R + 50 tan β
    design = design_frame(circle(1500.0, bevel=0.1), LARCH)
    for ring, radius in ((design.faces.moulding_mm, 1500.0), (design.faces.far_mm, 1500 + 50 * np.tan(0.1))):
        assert area(ring) == pytest.approx(np.pi / 4 * (radius**2 - (radius - 60) ** 2), rel=1e-5)
        np.testing.assert_allclose(ring[0], ring[-1])
    assert all(cut.beyond_mm == 0 for cut in design.faces.cuts)


def test_level_and_plumb_cuts():
    # a straight frame along (0.6, 0.8), 60 deep inboard (to its left, (-0.8, 0.6)): a level heel cut runs from the
    # outer edge inboard at one height, a plumb head cut at one half-breadth; each runs 60/cos along itself
    choice = replace(LARCH, heel_cut=("level", 0.0, 0.0), head_cut=("plumb", 30.0, 0.0))
    design = design_frame(straight(), choice)
    heel, head = design.faces.cuts
    np.testing.assert_allclose(heel.outer_mm, [0, 0], atol=1e-9)
    np.testing.assert_allclose(heel.inner_mm, [-60 / 0.8, 0], atol=1e-6)
    assert heel.beyond_mm == pytest.approx(60 * 0.6 / 0.8)  # past the end of the moulded line, on the inner edge
    np.testing.assert_allclose(head.outer_mm, [0.6 * 1170, 0.8 * 1170], atol=1e-6)
    np.testing.assert_allclose(head.inner_mm, [0.6 * 1170, 0.8 * 1170 + 60 / 0.6], atol=1e-6)
    ring = design.faces.moulding_mm
    assert ring[:, 1].min() == pytest.approx(0, abs=1e-6)
    assert ring[:, 0].max() == pytest.approx(0.6 * 1170, abs=1e-6)
    # by hand: mean length along the frame 1170 + (45 - 0)/2 at the heel + 80/2 at the head, × 60
    assert area(ring) == pytest.approx(60 * (1170 + 45 / 2 + 80 / 2), rel=1e-9)
    check = next(check for check in design.checks if check.name == "Length for the head cut")
    assert (check.ok, check.found) == (True, "50 mm past the moulded line")
    short = design_frame(straight(), replace(choice, trim_mm=40.0))
    assert not next(check for check in short.checks if check.name == "Length for the head cut").ok


def test_an_angled_cut_turns_as_told():
    heel, head = design_frame(straight(), replace(LARCH, head_cut=("angle", 10.0, 20.0))).faces.cuts
    assert heel.from_square_rad == 0
    assert np.degrees(head.from_square_rad) == pytest.approx(20)
    way = head.inner_mm - head.outer_mm
    assert np.degrees(np.arctan2(way[1], way[0]) - np.arctan2(0.6, -0.8)) == pytest.approx(20)


def test_notches_are_taken_out_of_both_faces():
    notches = (("limber hole", 60.0, "outer", 30.0, 12.0), ("riser", 700.0, "inner", 80.0, 10.0))
    plain, notched = (design_frame(straight(bevel=-0.1), replace(LARCH, notches=n)) for n in ((), notches))
    # by hand: 30 × 12 + 80 × 10 of the moulding face; an under bevel leaves 50 tan 0.1 less on the outer edge, and as
    # much more on the inner
    assert area(plain.faces.moulding_mm) - area(notched.faces.moulding_mm) == pytest.approx(30 * 12 + 80 * 10, rel=1e-9)
    less = 50 * np.tan(0.1)
    # both edges lie `less` further in on the far face: the outer notch is shallower there, the inner one deeper
    far = 30 * (12 - less) + 80 * (10 + less)
    assert area(plain.faces.far_mm) - area(notched.faces.far_mm) == pytest.approx(far, rel=1e-6)
    middle = Point(0.6 * 60 - 0.8 * 6, 0.8 * 60 + 0.6 * 6)
    assert Polygon(plain.faces.moulding_mm).contains(middle)
    assert not Polygon(notched.faces.moulding_mm).contains(middle)
    found = {check.name: check for check in notched.checks if check.name.startswith("Left at")}
    assert found["Left at limber hole"].ok
    assert found["Left at riser"].found == "50 mm of 60 mm moulded, 700 mm along"


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"notches": (("riser", 5000.0, "inner", 40.0, 10.0),)}, r"notch 'riser': 5000 mm along lies off the frame"),
        ({"notches": (("riser", 500.0, "inner", 40.0, 60.0),)}, r"notch 'riser': 60 mm deep in 60 mm moulded cuts"),
        ({"heel_cut": ("square", 700.0, 0.0)}, r"heel cut: 700 mm inside the end is past the middle"),
    ],
)
def test_cuts_that_cannot_be_are_refused(change, said):
    with pytest.raises(BadLamination, match=said):
        design_frame(straight(), replace(LARCH, **change))
    with pytest.raises(BadLamination, match=r"heel cut, level: it runs within 15° of the frame itself"):
        design_frame(circle(), replace(LARCH, heel_cut=("level", 0.0, 0.0)))


def test_moulded_depth_by_table():
    table = ((0.0, 80.0), (500.0, 60.0), (1200.0, 60.0))
    outline = design_frame(straight(), replace(LARCH, moulded_table=table)).outline
    np.testing.assert_allclose(np.interp([0, 250, 500, 900], outline.s_mm, outline.moulded_mm), [80, 70, 60, 60])


def sphere_section(x, radius=3000.0, n=300):
    """A sphere's section: a circle of √(R² - x²) from straight down to level; bevel asin(x/R) drawing in aft."""
    here = np.sqrt(radius**2 - x**2)
    a = np.linspace(0, np.pi / 2, n)
    points = here * np.column_stack([np.sin(a), -np.cos(a)])
    shape = section(here * a, points, -np.arcsin(x / radius), np.full(n, 1 / here))
    return replace(shape, station_mm=x)


@pytest.mark.parametrize("edge", ["fore", "aft"])
def test_the_far_face_is_the_hulls_own_cut(edge):
    # closed form: on a sphere the far face is a circle of √(R² - (x ± 50)²); the slope alone misses by about
    # 50²/2R / cos³β = 0.5 mm
    x = 900.0
    far = x + 50 if edge == "fore" else x - 50
    choice = replace(LARCH, moulding_edge=edge)
    true, by_slope = design_frame(sphere_section(x), choice, sphere_section), design_frame(sphere_section(x), choice)
    radius = np.hypot(*true.outline.far_outer_mm.T)
    np.testing.assert_allclose(radius, np.sqrt(3000.0**2 - far**2), atol=0.01)
    np.testing.assert_allclose(np.hypot(*true.outline.far_inner_mm.T), np.sqrt(3000.0**2 - far**2) - 60, atol=0.01)
    off = np.hypot(*by_slope.outline.far_outer_mm.T) - np.sqrt(3000.0**2 - far**2)
    assert 0.4 < np.abs(off).max() < 0.6
    # the bevel at the marks is the chord's over the siding, which the bevel gauge finds
    chord = (np.sqrt(3000.0**2 - far**2) - np.sqrt(3000.0**2 - x**2)) / 50
    np.testing.assert_allclose([np.tan(mark.bevel_rad) for mark in true.bevels], chord, atol=2e-4)


def test_the_far_cut_may_be_shorter_or_longer_than_the_frame():
    def cut(x):
        whole = sphere_section(x)
        some = slice(40, 240)  # its rabbet stands higher and its sheer lower
        return replace(
            whole, s_mm=whole.s_mm[some] - whole.s_mm[40], half_breadth_mm=whole.half_breadth_mm[some],
            height_mm=whole.height_mm[some], sd_mm=whole.sd_mm[some], bevel_rad=whole.bevel_rad[some],
            curvature_per_mm=whole.curvature_per_mm[some],
        )  # fmt: skip

    outline = design_frame(sphere_section(900.0), LARCH, cut).outline
    np.testing.assert_allclose(np.hypot(*outline.far_outer_mm.T), np.sqrt(3000.0**2 - 950.0**2), atol=0.05)
    with pytest.raises(BadLamination, match="lies nowhere beside the frame"):
        design_frame(
            sphere_section(900.0),
            LARCH,
            lambda x: replace(sphere_section(x), height_mm=sphere_section(x).height_mm + 9000),
        )


def test_bevels_on_the_inner_edge():
    # parallel edges: the same bevel; on a taper the inner edge runs otherwise, tan β' = tan β cos τ
    plain = design_frame(s_shape(bevel=0.2), LARCH)
    for mark in plain.bevels:
        assert mark.inner_bevel_rad == pytest.approx(mark.bevel_rad)
        assert np.hypot(mark.inner_half_breadth_mm - mark.half_breadth_mm, mark.inner_height_mm - mark.height_mm) == (
            pytest.approx(60, abs=1e-5)
        )
    taper = design_frame(straight(bevel=0.2), replace(LARCH, moulded_head_mm=40.0))
    lean = np.arctan(20 / 1200)
    for mark in taper.bevels:
        assert np.tan(mark.inner_bevel_rad) == pytest.approx(np.tan(0.2) * np.cos(lean))

"""The demo hull is a boat: laws of a fair round-bilged hull, and derivatives against differences.

The dimensions are those of the invented scenario (13.6 m lake launch); no source is claimed for them.
"""

import numpy as np
import pytest

STATIONS = np.arange(600.0, 12901.0, 300.0)
SIDES = ["P", "S", "", "built"]


def turns(values):
    """How often a row of numbers changes sign, nothing counted for values that are nothing."""
    signs = np.sign(values[np.abs(values) > 1e-9])
    return int(np.sum(signs[1:] != signs[:-1]))


@pytest.fixture(scope="module")
def sections(form):
    return [form.section(x, 400) for x in STATIONS]


def test_her_dimensions(form, sections):
    beam = 2 * max(line.half_breadth_mm.max() for line in sections)
    depths = np.array([line.height_mm[-1] - line.height_mm[0] for line in sections])
    assert 2800 < beam < 3000
    assert np.all((depths > 1000) & (depths < 1450))
    bilge = np.array([1 / line.curvature_per_mm.max() for x, line in zip(STATIONS, sections, strict=True) if x > 9000])
    assert np.all((bilge > 350) & (bilge < 600))


def test_flare_forward_and_tumblehome_aft(sections):
    lean = np.array([np.diff(line.half_breadth_mm)[-1] / np.diff(line.height_mm)[-1] for line in sections])
    assert np.degrees(np.arctan(lean[STATIONS == 2400])) > 20
    assert np.degrees(np.arctan(lean[STATIONS == 12300])) < -12
    assert turns(lean) == 1


@pytest.mark.parametrize("side", SIDES)
def test_no_section_crosses_itself(form, side):
    x, v = np.meshgrid(STATIONS, np.linspace(0, 1, 301), indexing="ij")
    points = form.surface(x, v, side)
    assert np.all(np.diff(points[..., 2], axis=1) > 0)  # height only rises: a line that does so cannot cross itself
    assert np.all(points[..., 1] > 35)


def test_one_bilge_and_an_even_comb(sections):
    for line in sections:
        comb = line.curvature_per_mm
        assert turns(np.diff(comb)) <= 1, "one swell of curvature, at the bilge"
        assert turns(comb) <= 2, "hollow garboard, bilge, hollow flare: no more"


def test_fair_in_profile_and_plan(form):
    x = np.linspace(600, 12900, 124)
    for v, rise in ((0.0, 2), (1.0, 2)):  # rabbet and sheer sag evenly: one sign of the second difference
        assert turns(np.diff(form.surface(x, v, "built")[:, 2], rise)) == 0
    assert turns(np.diff(form.surface(x, 1.0, "built")[:, 1], 2)) == 0
    fine = [form.section(at, 2001, "built") for at in x]
    for height in range(700, 1301, 100):  # a waterline may turn once, from the hollow of the entry
        half = np.array([np.interp(height, line.height_mm, line.half_breadth_mm) for line in fine])
        assert turns(np.round(np.diff(half, 2), 3)) <= 1


def test_the_sides_differ_as_she_lies(form):
    middle, end = form.LENGTH_MM / 2, form.LENGTH_MM
    built = form.surface([0, middle, end], 1.0, "built")
    assert form.surface([0, middle, end], 1.0, "S") - built == pytest.approx(
        np.array([[0, 0, -form.HOG_MM], [0, 0, 0], [0, 0, -form.HOG_MM]])
    )
    port = form.surface(middle, [0.0, 1.0], "P") - form.surface(middle, [0.0, 1.0], "S")
    assert port[:, 1] == pytest.approx([0.0, form.SPRUNG_MM])
    x, v = np.meshgrid(STATIONS, np.linspace(0, 1, 7))
    assert form.surface(x, v) == pytest.approx((form.surface(x, v, "P") + form.surface(x, v, "S")) / 2)


@pytest.mark.parametrize("side", SIDES)
def test_slopes_agree_with_differences(form, side):
    x, v = np.meshgrid([700.0, 5000.0, 12000.0], [0.1, 0.5, 0.9])
    by_x, by_v = form.partials(x, v, side)
    step = 1.0, 1e-5  # central differences: wrong by step² times a third derivative, below 1e-5 here
    assert by_x == pytest.approx(
        (form.surface(x + step[0], v, side) - form.surface(x - step[0], v, side)) / 2 / step[0], abs=1e-5
    )
    assert by_v == pytest.approx(
        (form.surface(x, v + step[1], side) - form.surface(x, v - step[1], side)) / 2 / step[1], abs=1e-3
    )


@pytest.mark.parametrize("side", SIDES)
@pytest.mark.parametrize("x", [900.0, 4500.0, 11000.0])
def test_a_section_agrees_with_its_points(form, x, side):
    line = form.section(x, 801, side)
    p = np.stack([line.half_breadth_mm, line.height_mm], axis=-1)
    chords = np.linalg.norm(np.diff(p, axis=0), axis=-1)
    assert chords == pytest.approx(np.full(800, line.s_mm[-1] / 800), rel=2e-4)
    direction = np.unwrap(np.arctan2(*np.diff(p, axis=0).T[::-1]))
    turned = np.diff(direction) / (line.s_mm[1] - line.s_mm[0])
    assert line.curvature_per_mm[1:-1] == pytest.approx(turned, abs=2e-6)  # one part in 1000 of the bilge's
    ahead, astern = form.off_the_line(p, x - 5, side), form.off_the_line(p, x + 5, side)
    swell = (ahead - astern) / 10  # a fuller section astern leaves these points inside it
    inner = slice(20, -20)  # the nearest point of the next section may lie past its ends
    assert np.tan(line.bevel_rad)[inner] == pytest.approx(swell[inner], abs=2e-3)


def test_off_the_line_measures_square_and_outwards(form):
    line = form.section(7000.0, 101)
    p = np.stack([line.half_breadth_mm, line.height_mm], axis=-1)
    along = np.gradient(p, line.s_mm, axis=0)
    along /= np.linalg.norm(along, axis=-1, keepdims=True)
    outside = p + 3.0 * np.stack([along[:, 1], -along[:, 0]], axis=-1)
    assert form.off_the_line(p, 7000.0) == pytest.approx(np.zeros(101), abs=2e-3)
    assert form.off_the_line(outside, 7000.0)[1:-1] == pytest.approx(np.full(99, 3.0), abs=5e-3)


def test_an_unknown_side_is_named(form):
    with pytest.raises(ValueError, match="side: found 'X'; give 'P', 'S'"):
        form.surface(3000.0, 0.5, "X")

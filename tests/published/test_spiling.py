"""Spiled points against plane geometry.

Sources: two circles of known centres (law of cosines), the same figures as for two tapes from two nails; three arcs by
least squares, the minimum of Σ(distance − opening)² found independently; parallel curves of a circle are circles.
"""

import numpy as np
import pytest

from scrieve.planking.choice import SpilingBatten, SpilingChoice, SpilingMark
from scrieve.planking.design import design_spiled_plank
from scrieve.planking.spiling import from_arcs, from_block, spiled_edges


def arcs(centres, openings, side=1):
    return [
        SpilingMark("7", "upper" if side > 0 else "lower", "arc", x, y, opening, side)
        for (x, y), opening in zip(centres, openings, strict=True)
    ]


def test_two_arcs_cross_above():
    # x = (1300² − 1500² + 2000²)/4000 = 860, y = √(1300² − 860²) = 974.8846086; crossing 90.88°, that is 89.12°
    point = from_arcs(arcs([(0, 0), (2000, 0)], [1300, 1500]))
    assert (point.x_mm, point.y_mm) == pytest.approx((860, 974.8846086), abs=1e-7)
    assert point.crossing_deg == pytest.approx(180 - 90.8815083, abs=1e-6)
    assert point.misses_mm == ()


def test_the_mirrored_crossing_is_the_other_edge():
    point = from_arcs(arcs([(2000, 0), (0, 0)], [1600, 1200], side=-1))
    assert (point.x_mm, point.y_mm) == pytest.approx((720, -960), abs=1e-9)
    assert point.crossing_deg == pytest.approx(90, abs=1e-9)


def test_three_arcs_that_do_not_quite_meet():
    # computed − read: 2.290948, 2.221891, −3.061996
    point = from_arcs(arcs([(0, 0), (2000, 0), (1000, -800)], [1500, 1204, 1718]))
    assert (point.x_mm, point.y_mm) == pytest.approx((1200.476710, 903.179805), abs=1e-5)
    assert point.misses_mm == pytest.approx((2.290948, 2.221891, -3.061996), abs=1e-5)


def test_a_block_along_a_circle_gives_the_circle_beside_it():
    # marks on a circle of radius 18 m about (3000, −18000); the edge lies 40 mm outside it, on one of 18.04 m
    x = np.linspace(0, 6000, 13)
    y = np.sqrt(18000**2 - (x - 3000) ** 2) - 18000
    points = from_block(
        [SpilingMark(str(i), "upper", "block", *xy, 40.0) for i, xy in enumerate(zip(x, y, strict=True))]
    )
    radii = [np.hypot(point.x_mm - 3000, point.y_mm + 18000) for point in points]
    assert radii == pytest.approx([18040] * 13, abs=1e-3)


def test_all_kinds_find_the_same_edge():
    # one plank between two circles of 20 m and 20.15 m about (2500, −20000), marked three ways from a straight batten
    def circle(x, radius):
        return np.sqrt(radius**2 - (x - 2500) ** 2) - 20000

    x = np.linspace(0, 5000, 11)
    marks: list[SpilingMark] = []
    for i, at in enumerate(x):
        low, high = circle(at, 20000.0), circle(at, 20150.0)
        if i % 2:
            marks.append(SpilingMark(str(i), "upper", "offset", at, high))
        else:
            marks += [
                SpilingMark(str(i), "upper", "arc", at + dx, high - 60.0, float(np.hypot(dx, 60.0)))
                for dx in (-90.0, 70.0)
            ]
        angle = np.arctan2(low + 20000, at - 2500)
        marks.append(
            SpilingMark(
                str(i), "lower", "block", 2500 + 20025 * np.cos(angle), 20025 * np.sin(angle) - 20000, 25.0, side=-1
            )
        )
    edges = spiled_edges(SpilingBatten(tuple(marks)))
    inner = np.linspace(10, 4990, 50)
    np.testing.assert_allclose(edges.upper(inner), circle(inner, 20150.0), atol=0.01)
    np.testing.assert_allclose(edges.lower(inner), circle(inner, 20000.0), atol=0.01)


def arcs_along_a_line(mirrored):
    """Arcs from pairs of centres on the datum line to points of y = 120 + x²/40000, one of them said to lie below."""
    marks: list[SpilingMark] = []
    for i, x in enumerate(range(0, 3500, 500)):
        y = 120 + x**2 / 40000
        side = -1 if i == mirrored else 1
        marks += [SpilingMark(str(i), "upper", "arc", x + d, 0.0, float(np.hypot(d, y)), side) for d in (-100, 100)]
        marks.append(SpilingMark(str(i), "lower", "offset", float(x), -150.0))
    return SpilingBatten(tuple(marks))


@pytest.mark.parametrize("mirrored", [0, 3, 6])
def test_a_crossing_on_the_wrong_side_is_named(mirrored):
    # two circles about points of the x axis cross at ±y: the other crossing lies on the parabola, this one far below
    def design(side):
        return design_spiled_plank(arcs_along_a_line(side), SpilingChoice("s", 25.0, tolerance_mm=1.0))

    said = next(check for check in design(mirrored).checks if check.name == "Side of the arcs")
    assert (said.ok, said.found) == (False, f"{mirrored} upper")
    assert next(check for check in design(None).checks if check.name == "Side of the arcs").ok

"""Laws that any fairing must keep: where the builder stands, which way he counts and in what order does not matter."""

from dataclasses import replace

import numpy as np
import pytest
from forms import FORMS
from hypothesis import given, settings
from hypothesis import strategies as st
from planted import take_off

from scrieve.boat import Boat
from scrieve.fairing import fair

BOAT = Boat("some boat", sigma_mm=1.5)
TAKE = take_off(FORMS[1], 4, frames=9, marks=8, wrong={(4, 5): 45.0})
HULL = fair(TAKE.marks, BOAT)
SECTIONS = [HULL.section(frame) for frame in ("0", "3", "4", "8")]
FEW = settings(max_examples=5, deadline=None)


def test_there_is_something_to_keep():
    assert [mark.frame for mark in HULL.suspects] == ["4"]


@FEW
@given(st.floats(-30_000, 30_000), st.floats(-3_000, 3_000))
def test_where_the_datum_lies_does_not_matter(along, up):
    moved = fair(
        [replace(mark, station_mm=mark.station_mm + along, height_mm=mark.height_mm + up) for mark in TAKE.marks], BOAT
    )
    for section in SECTIONS:
        same = moved.section(section.frame)
        assert same.half_breadth_mm == pytest.approx(section.half_breadth_mm, abs=0.03)
        assert same.height_mm == pytest.approx(section.height_mm + up, abs=0.03)
        assert same.bevel_rad == pytest.approx(section.bevel_rad, abs=1e-4)


@FEW
@given(st.floats(0.2, 5))
def test_everything_larger_gives_everything_larger(factor):
    larger = fair(
        [
            replace(
                mark,
                station_mm=mark.station_mm * factor,
                height_mm=mark.height_mm * factor,
                half_breadth_mm=mark.half_breadth_mm * factor,
                sigma_mm=1.5 * factor,
            )
            for mark in TAKE.marks
        ],
        BOAT,
    )
    for section in SECTIONS:
        same = larger.section(section.frame)
        assert same.points_mm / factor == pytest.approx(section.points_mm, abs=0.03)
        assert same.bevel_rad == pytest.approx(section.bevel_rad, abs=1e-4)
        assert same.sd_mm / factor == pytest.approx(section.sd_mm, rel=0.03)


@FEW
@given(st.permutations(range(len(TAKE.marks))))
def test_the_order_of_the_rows_does_not_matter(order):
    shuffled = fair([TAKE.marks[i] for i in order], BOAT)
    assert [mark.number for mark in shuffled.suspects] == [mark.number for mark in HULL.suspects]
    for section in SECTIONS:
        assert shuffled.section(section.frame).points_mm == pytest.approx(section.points_mm, abs=0.03)


def test_bow_for_stern_mirrors_the_bevels():
    turned = fair([replace(mark, station_mm=-mark.station_mm) for mark in TAKE.marks], BOAT)
    for section in SECTIONS:
        same = turned.section(section.frame)
        assert same.points_mm == pytest.approx(section.points_mm, abs=0.03)
        assert same.bevel_rad == pytest.approx(-section.bevel_rad, abs=1e-4)


def test_a_mark_of_twice_the_error_weighs_less():
    # the same blunder of 6 mm: believed when the mark is said to be good, passed by when it is said to be poor
    take = take_off(FORMS[0], 4, frames=9, marks=8)
    at = next(i for i, mark in enumerate(take.marks) if mark.frame == "4" and mark.number % 8 == 5)
    bent = [replace(mark, half_breadth_mm=mark.half_breadth_mm + 6 * (i == at)) for i, mark in enumerate(take.marks)]
    number = {bent[at].number: "keep"}
    sure = fair([replace(mark, sigma_mm=0.5 if i == at else 1.5) for i, mark in enumerate(bent)], BOAT, answers=number)
    loose = fair([replace(mark, sigma_mm=6.0 if i == at else 1.5) for i, mark in enumerate(bent)], BOAT, answers=number)
    assert abs(sure.offs[at].residual_mm) < 0.4 * abs(loose.offs[at].residual_mm)


def test_sections_are_told_evenly_by_arc_length():
    section = HULL.section("3", points=300)
    step = np.hypot(*np.diff(section.points_mm, axis=0).T)
    assert step == pytest.approx(section.girth_mm / 299, rel=2e-3)

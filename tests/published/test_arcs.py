"""Chords and sagittas.

Sources: sagitta R − √(R² − c²/4), evaluated in forty-digit decimal arithmetic; radius (c²/4 + h²)/2h for a 60 in chord
of 12 in camber, (900 + 144)/24 = 43.5 in by hand; Euclid, Elements III.35 (crossing chords); half and whole circles.
"""

from decimal import Decimal, getcontext

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from scrieve.errors import BadGeometry
from scrieve.geometry.arcs import arc_length, radius_from_chord, sagitta

getcontext().prec = 40


@pytest.mark.parametrize(
    ("radius", "chord", "depth"), [(600, 300, 19.0524981), (1000, 600, 46.0607986), (2500, 1000, 50.5102572)]
)
def test_sagitta(radius, chord, depth):
    assert float(sagitta(radius, chord)) == pytest.approx(depth, abs=5e-8)  # as many digits as the table prints


def test_backing_out_of_a_wide_plank():
    assert float(sagitta(600, 120)) == pytest.approx(3.0075377, abs=5e-8)


@given(st.integers(1, 10**7), st.floats(1e-6, 1))
def test_sagitta_keeps_its_digits_on_a_flat_arc(radius, share):
    chord = 2 * radius * share
    r, c = Decimal(radius), Decimal(chord)
    if c > 2 * r:
        return
    exact = r - (r * r - c * c / 4).sqrt()
    assert float(sagitta(radius, chord)) == pytest.approx(float(exact), rel=1e-6 if share > 1 - 1e-9 else 1e-9)


def test_radius_of_sixty_inches_with_twelve_of_camber():
    assert float(radius_from_chord(60, 12)) == 43.5


@given(st.floats(10, 1e4), st.floats(0.01, 0.999))
def test_radius_gives_back_the_sagitta(radius, share):
    chord = 2 * radius * share
    assert radius_from_chord(chord, sagitta(radius, chord)) == pytest.approx(radius, rel=1e-9)


def test_lengths_of_arcs_with_a_closed_form():
    quarter = np.sqrt(2) * 1000  # chord of a quarter of a circle of radius 1000
    assert float(arc_length(quarter, 1000 - quarter / 2)) == pytest.approx(500 * np.pi, rel=1e-12)
    assert float(arc_length(2000, 1000)) == pytest.approx(1000 * np.pi, rel=1e-14)
    assert float(arc_length(quarter, 1000 + quarter / 2)) == pytest.approx(1500 * np.pi, rel=1e-12)


def test_arrays_are_taken_in_one_call():
    assert sagitta([600, 1000], [[300], [600]]).shape == (2, 2)


def test_what_is_no_arc():
    with pytest.raises(BadGeometry, match=r"chord 1300 mm on a radius of 600 mm: a chord is at most twice the radius"):
        sagitta(600, [300, 1300])
    with pytest.raises(BadGeometry, match=r"depth: 0 mm; give a value above zero"):
        radius_from_chord(60, 0)
    with pytest.raises(BadGeometry, match=r"chord no\. 2: nan mm"):
        arc_length([60, np.nan], 5)

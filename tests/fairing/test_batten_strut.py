"""Bad input of the sprung battens; their figures are held against tables in tests/published/test_elastica.py."""

import numpy as np
import pytest

from scrieve.errors import BadGeometry
from scrieve.fairing.batten_strut import cantilever, strut


@pytest.mark.parametrize(
    ("ask", "words"),
    [
        (lambda: strut(0, 1), "length: 0 mm; give a value above zero"),
        (lambda: strut(1000, 0), "end slope 0°"),
        (lambda: strut(1000, np.pi), "end slope 180°"),
        (lambda: cantilever(-1, 1), "length: -1 mm"),
        (lambda: cantilever(1000, np.nan), "load nan"),
    ],
)
def test_bad_input_is_named(ask, words):
    with pytest.raises(BadGeometry, match=words):
        ask()


def test_a_longer_strut_is_the_same_larger():
    small, large = strut(1000, 1.2), strut(3000, 1.2)
    assert large.points_mm == pytest.approx(3 * small.points_mm)
    assert large.over_euler == pytest.approx(small.over_euler)


def test_strut_is_the_same_from_either_pin():
    points = strut(1000, 2.0).points_mm
    mirrored = np.c_[points[-1, 0] - points[::-1, 0], points[::-1, 1]]
    assert mirrored == pytest.approx(points, abs=1e-9)


def test_load_to_the_other_side_bends_to_the_other_side():
    left, right = cantilever(1000, 3e-6), cantilever(1000, -3e-6)
    assert right.points_mm == pytest.approx(left.points_mm * [1, -1], abs=1e-9)
    assert left.curvature_per_mm[-1] == pytest.approx(0, abs=1e-6)
    assert left.sag_mm == left.points_mm[-1, 1]

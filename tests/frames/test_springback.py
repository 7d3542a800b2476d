"""Laws of springback: they need no source."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy.integrate import quad

from scrieve.errors import BadLamination
from scrieve.frames.packet.springback import jig_curvature, packet_stiffness, springback_fraction

THICKNESS = arrays(float, 5, elements=st.floats(2, 15))
MODULUS = arrays(float, 5, elements=st.floats(5_000, 20_000))
FEW = settings(max_examples=50, deadline=None)


@FEW
@given(THICKNESS, st.integers(0, 4))
def test_splitting_a_lamination_lowers_springback(thickness, which):
    split = np.insert(thickness, which, thickness[which] / 2)
    split[which + 1] /= 2
    assert springback_fraction(split, 12_000) < springback_fraction(thickness, 12_000)


@FEW
@given(THICKNESS, MODULUS, st.floats(0.1, 10))
def test_scale_does_not_matter(thickness, modulus, scale):
    r = springback_fraction(thickness, modulus)
    assert springback_fraction(scale * thickness, modulus) == pytest.approx(float(r), rel=1e-9)
    assert springback_fraction(thickness, scale * modulus) == pytest.approx(float(r), rel=1e-9)


@FEW
@given(THICKNESS, MODULUS)
def test_turned_inside_out(thickness, modulus):
    found, turned = packet_stiffness(thickness, modulus), packet_stiffness(thickness[::-1], modulus[::-1])
    assert turned.springback == pytest.approx(float(found.springback), rel=1e-9)
    assert turned.neutral_mm == pytest.approx(thickness.sum() - float(found.neutral_mm), rel=1e-9)


@FEW
@given(THICKNESS, MODULUS)
def test_against_quadrature(thickness, modulus):
    # the definition itself: ∫E dy about the neutral line vanishes, EI = ∫E (y - y_N)² dy, lamination by lamination
    found = packet_stiffness(thickness, modulus)
    edges, middle = np.concatenate([[0], np.cumsum(thickness)]), float(found.neutral_mm)
    first = second = scale = 0.0
    for a, b, e in zip(edges[:-1], edges[1:], modulus, strict=True):
        first += e * quad(lambda y: y - middle, a, b)[0]
        second += e * quad(lambda y: (y - middle) ** 2, a, b)[0]
        scale += e * (b - a) * edges[-1]
    assert abs(first) < 1e-9 * scale
    assert float(found.glued) == pytest.approx(second, rel=1e-9)


def test_leading_shapes_run_together():
    t = np.array([[8.0, 8, 8, 8], [10, 5, 5, 10]])
    both = springback_fraction(t, 11_000)
    assert both.shape == (2,)
    assert both[1] == springback_fraction(t[1], 11_000)


def test_a_missing_thickness_is_named():
    with pytest.raises(BadLamination, match=r"thickness no\. 2: 0 mm; give"):
        springback_fraction([6, 0, 6], 12_000)
    with pytest.raises(BadLamination, match=r"modulus: -1 N/mm²"):
        springback_fraction([6, 6], -1)
    with pytest.raises(BadLamination, match="no lamination left"):
        springback_fraction([6, 6], 1, [False, False])


def test_a_factor_that_leaves_nothing_is_refused():
    with pytest.raises(BadLamination, match=r"springback 1\.25 of the jig's curvature"):
        jig_curvature(0.001, 0.25, 5.0)
    # a learnt factor multiplies r: κ / (1 - c r)
    assert jig_curvature(0.001, 0.25, 2.0) == pytest.approx(0.002)

"""Springback against printed rules, exact values of the composite section, and the other rule that is not ours.

Sources: an epoxy maker's note on laminated bends, reprinted 2003, and a builders' forum quoting the same rule: of a
rise x on the mould, x/n² is lost. The unequal packets follow from the parallel-axis theorem in rational arithmetic.
"""

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from scrieve.frames.packet.springback import jig_curvature, packet_stiffness, springback_fraction

INCH = 25.4


@pytest.mark.parametrize(
    ("rise_in", "laminations", "lost_in"),
    [(1, 4, 1 / 16), (1, 8, 1 / 64), (3, 4, 3 / 16), (3, 8, 3 / 64)],  # printed, exact: only rounding is allowed
)
def test_printed_loss_of_rise(rise_in, laminations, lost_in):
    lost = rise_in * INCH * springback_fraction([6.0] * laminations, 11_000)
    assert lost == pytest.approx(lost_in * INCH, rel=1e-12)


def test_mould_camber_for_three_inches_wanted():
    # hull practice: x - x/n² = 3 in with n = 4 gives 3.2 in; a shallow arc's camber goes as its curvature
    assert 3 * jig_curvature(1.0, springback_fraction([5.0] * 4, 9_000)) == pytest.approx(3.2, abs=1e-12)


def test_elastic_rule_and_not_the_other_one():
    # R 5 m, n = 10: 4.95 m by elastic recovery; the rule R (n - 1)/n of another page would say 4.50 m
    radius = 1 / jig_curvature(1 / 5000, springback_fraction([6.0] * 10, 11_000))
    assert radius == pytest.approx(4950, abs=1e-6)


@pytest.mark.parametrize(
    ("n", "f"), [(2, 0.25), (3, 1 / 9), (5, 0.04), (6, 1 / 36), (8, 1 / 64), (10, 0.01), (16, 1 / 256)]
)
def test_equal_laminations(n, f):  # 1/n², exact
    assert springback_fraction([7.0] * n, 12_345) == pytest.approx(f, rel=1e-12)


def test_form_and_released_radius():
    # R_form = R (1 - f): 972.22 for 1000, n = 6; released from 1000: 1066.67 (n = 4), 1015.87 (n = 8)
    assert 1 / jig_curvature(1 / 1000, 1 / 36) == pytest.approx(972.2222, abs=1e-4)
    for n, released in ((4, 1066.6667), (8, 1015.8730)):
        assert 1000 / (1 - springback_fraction([5.0] * n, 1)) == pytest.approx(released, abs=1e-4)


PACKETS = [
    ([8] * 5, [11000, 12900, 11000, 12900, 11000], 20.0, 0.04128054, 958.71946, 2.734848e9),
    ([10, 6, 6, 6, 6, 6, 10], [12000] * 7, 25.0, 0.02464, 975.36, 5.625e9),
    ([12, 8, 8, 8, 8], [12300, 9000, 9000, 9000, 9000], 20.54545455, 0.04494749, 955.05251, 3.311064e9),
    ([10, 5], [12000, 12000], 7.5, 1 / 3, 666.66667, 1.51875e8),
    ([6, 6, 6], [10000, 14000, 10000], 9.0, 17 / 137, 875.91241, 2.2194e8),
]


@pytest.mark.parametrize(("t", "e", "neutral", "r", "radius", "ei"), PACKETS)
def test_unequal_packets(t, e, neutral, r, radius, ei):
    # transformed section, computed twice by independent routes; digits shown are exact to the last
    found = packet_stiffness(t, e)
    assert found.neutral_mm == pytest.approx(neutral, abs=1e-8)
    assert found.springback == pytest.approx(r, abs=1e-7 / 2)
    assert 1 / jig_curvature(1 / 1000, found.springback) == pytest.approx(radius, abs=1e-5)
    assert 45 * found.glued == pytest.approx(ei, rel=2e-7)


@pytest.mark.parametrize("packet", PACKETS)
def test_against_rational_arithmetic(packet):
    # the same theorem about another axis (the inside face), in exact fractions: I = Σ E (y₂³ - y₁³)/3 - A ȳ²
    t, e = [Fraction(x) for x in packet[0]], [Fraction(x) for x in packet[1]]
    tops = [sum(t[: i + 1]) for i in range(len(t))]
    bottoms = [top - each for top, each in zip(tops, t, strict=True)]
    area = sum(ei * ti for ei, ti in zip(e, t, strict=True))
    first = sum(ei * (b**2 - a**2) / 2 for ei, a, b in zip(e, bottoms, tops, strict=True))
    second = sum(ei * (b**3 - a**3) / 3 for ei, a, b in zip(e, bottoms, tops, strict=True))
    loose = sum(ei * ti**3 / 12 for ei, ti in zip(e, t, strict=True))
    exact = loose / (second - first**2 / area)
    assert float(springback_fraction(packet[0], packet[1])) == pytest.approx(float(exact), rel=1e-13)


def test_dropped_laminations_are_local():
    # where a lamination has been dropped the packet is that of those left: 1/n² with n = 6, then 5
    r = springback_fraction([10.0] * 6, 12_000, np.array([[1, 1, 1, 1, 1, 1], [1, 1, 0, 1, 1, 1]], dtype=bool))
    np.testing.assert_allclose(r, [1 / 36, 1 / 25], rtol=1e-12)


def test_the_table_in_the_docs():
    # docs/frames.md prints the same packets: neutral line and r, to the digits shown
    text = (Path(__file__).parents[2] / "docs" / "frames.md").read_text(encoding="utf-8")
    rows = [line.split("|")[1:-1] for line in text.splitlines() if line.startswith("|") and "000 |" in line]
    assert len(rows) == len(PACKETS)
    for (_, neutral, share), (t, e, *_) in zip(rows, PACKETS, strict=True):
        found = packet_stiffness(t, e)
        assert float(found.neutral_mm) == pytest.approx(float(neutral), abs=1e-8)
        assert float(found.springback) == pytest.approx(float(Fraction(share.strip())), abs=1e-8 / 2)

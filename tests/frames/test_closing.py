"""Closing effort against closed forms and an elastica solved by collocation."""

from types import SimpleNamespace

import numpy as np
import pytest
from scipy.integrate import quad, solve_bvp
from scipy.optimize import minimize
from sections import circle, s_shape

from scrieve.errors import BadJig, BadLamination
from scrieve.frames import FrameChoice, design_frame
from scrieve.frames.design import Closing
from scrieve.frames.packet.closing import clamp_spacing
from scrieve.frames.packet.held import Held

B, R = 2.0e7, 1500.0
S = np.linspace(0, 3000, 3001)


def bracket_moments(stiff, kappa, stations):
    """Moments and forces of a strip held to a curve on brackets, its stiffness and lack of curvature told outright."""
    even = np.ones(len(S))
    line = SimpleNamespace(s_mm=S, curvature_per_mm=kappa * even)
    held = Held(SimpleNamespace(neutral=line, girth_mm=S, stiff=stiff * even, held_per_mm=0 * even))
    return held.moments(np.asarray(stations, dtype=float))


def test_constant_curvature_is_held_by_end_couples_alone():
    # closed form: a straight strip bent to an arc carries M = B/R throughout; two brackets a apart near each end make
    # the couple, M/a each, and the brackets between bear nothing
    a = 1.0
    stations = np.concatenate([[0, a], np.arange(300, 2701, 300.0), [3000 - a, 3000]])
    moment, force = bracket_moments(B, 1 / R, stations)
    np.testing.assert_allclose(moment[1:-1], B / R, rtol=2e-3)
    np.testing.assert_allclose(force[[0, -1]], -B / R / a, rtol=2e-3)
    np.testing.assert_allclose(force[[1, -2]], B / R / a, rtol=2e-3)
    assert np.abs(force[3:-3]).max() < 1e-3 * B / R / a


@pytest.mark.parametrize("a", [200.0, 450.0])
def test_cantilever(a):
    # closed form: half of three brackets is a cantilever whose tip is drawn in by a²/2R = F a³/3B: F = 3B/(2aR)
    _, force = bracket_moments(B, 1 / R, [1000 - a, 1000, 1000 + a])
    np.testing.assert_allclose(force, np.array([-1, 2, -1]) * 1.5 * B / R / a, rtol=1e-9)


def test_end_of_evenly_spaced_brackets():
    # closed form (three-moment equations, many spans): the bending wanting at the end dies away by -(2 - √3) a span
    stations = np.arange(0, 3001, 200.0)
    moment, _ = bracket_moments(B, 1 / R, stations)
    np.testing.assert_allclose(1 - moment[:5] * R / B, (np.sqrt(3) - 2) ** np.arange(5), atol=1e-6)


def test_forces_balance_and_a_step_in_stiffness_is_taken():
    # no outside load: forces and their moments add up to nothing; compatibility by direct minimum of the energy
    stiff = np.where(S < 1400, 6.0, 4.0) * 1e6
    kappa = 1e-3 * np.sin(S / 700)
    stations = np.array([100.0, 500, 1000, 1800, 2300, 2900])
    moment, force = bracket_moments(stiff, kappa, stations)
    assert abs(force.sum()) < 1e-9 * np.abs(force).sum()
    assert abs(force @ stations) < 1e-9 * np.abs(force).max() * 3000
    fine = np.linspace(100, 2900, 20_001)
    b, k = np.interp(fine, S, stiff), np.interp(fine, S, kappa)

    def energy(inner):  # complementary energy ∫ M²/2B - Mκ, M straight between brackets
        m = np.interp(fine, stations, np.concatenate([[0], inner * 1000, [0]]))
        return float(np.trapezoid(m**2 / (2 * b) - m * k, fine))

    best = minimize(energy, moment[1:-1] / 1000 + 1, tol=1e-12)
    np.testing.assert_allclose(best.x * 1000, moment[1:-1], rtol=2e-3, atol=5)


def test_three_brackets_against_the_elastica():
    # large turns and all, SciPy's collocation: half a strip from the middle bracket, clamped by symmetry, its tip drawn
    # in square to itself by a free-running force until it lies on the arc of 1500; linear theory in the packet's own
    # length lies within (a/R)²/5 of it
    a = 400.0
    turn = a / R
    aim = np.array([R * np.sin(turn), R * (1 - np.cos(turn))])

    def field(s, y, p):
        angle, _, _, _ = y
        square = turn  # the clamp stands square to the arc at its bracket
        return np.vstack([y[1], -p[0] / B * np.cos(angle - square), np.cos(angle), np.sin(angle)])

    def ends(ya, yb, p):
        return np.array([ya[0], ya[2], ya[3], yb[1], (yb[3] - aim[1]) - (yb[2] - aim[0]) * np.tan(turn)])

    s = np.linspace(0, a, 60)
    guess = np.vstack([s / R, np.full(60, 1 / R) * (1 - s / a), s, s**2 / (2 * R)])
    found = solve_bvp(field, ends, s, guess, p=[1.5 * B / R / a], tol=1e-8)
    assert found.success
    _, force = bracket_moments(B, 1 / R, [1000 - a, 1000, 1000 + a])
    assert abs(force[0]) == pytest.approx(found.p[0], rel=0.03)
    assert quad(lambda t: float(found.sol(t)[1]), 0, a)[0] > 0.9 * turn / 2


def test_a_design_says_what_closes_it():
    choice = FrameChoice(timber="larch", count=8, clamp_n=800.0)
    design = design_frame(circle(1500.0), choice)
    closing = design.closing
    assert isinstance(closing, Closing)
    assert closing.moment_nmm == pytest.approx(design.jig.moment_nmm, rel=1e-6)
    np.testing.assert_allclose(
        [each.force_n for each in closing.brackets], [each.force_n for each in design.jig.brackets], rtol=0.02, atol=5
    )
    assert sorted(each.turn for each in closing.brackets) == list(range(1, len(closing.brackets) + 1))
    for each in closing.brackets:
        assert each.clamps * 800.0 >= max(-each.force_n, each.pull_n) - 1e-6
    places = [place.s_mm for place in closing.places]
    assert np.diff(places).max() <= closing.spacing_mm + 1e-6  # pressure reaches every joint
    assert {place.bracket for place in closing.places} >= {each.number for each in closing.brackets}
    last = max(closing.brackets, key=lambda each: each.turn)
    assert last.pull_n > 0
    # fewer newtons in a clamp, more clamps
    weak = design_frame(circle(1500.0), FrameChoice(timber="larch", count=8, clamp_n=100.0)).closing
    assert weak.clamps > closing.clamps
    working = next(working for working in design.workings if working.figure == "Clamps to close the packet")
    assert "friction" in working.source
    assert "stand clear" in working.caution


def test_pre_bent_stock_closes_by_hand():
    straight, held = (
        design_frame(s_shape(), FrameChoice(timber="larch", count=7, steamed_share=share)) for share in (0.0, 0.8)
    )
    assert held.closing.moment_nmm == pytest.approx(0.2 * straight.closing.moment_nmm, rel=0.03)
    assert held.jig.moment_nmm == pytest.approx(held.closing.moment_nmm, rel=1e-12)


def test_clamps_and_cauls():
    # 45° through 25 of caul and 60 of packet, both ways: 170 mm; 0.7 N/mm² on 100 wide: 3000 / 70 = 42.9 mm
    assert clamp_spacing(60, 100, 25, 3000) == 170
    assert clamp_spacing(60, 100, 25, 3000, 0.7) == pytest.approx(3000 / 70)
    with pytest.raises(BadLamination, match=r"depth, width or force of a clamp no\. 3: 0"):
        clamp_spacing(60, 100, 25, 0)
    with pytest.raises(BadJig, match="three points or more"):
        bracket_moments(B, 1 / R, [100, 200])

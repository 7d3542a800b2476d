"""Locked-in stress: it balances, ripping frees none of it, and what planing frees is the integral over what is left."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import dblquad, quad
from sections import circle, s_shape, straight

from scrieve.errors import BadLamination
from scrieve.frames import FrameChoice, design_frame
from scrieve.frames.stack import Ply, stack_along
from scrieve.frames.stress import locked_stress, movement
from scrieve.timber.species import species

LARCH, SAPELE = species("larch"), species("sapele")
STACK = [Ply(SAPELE, 9.0), Ply(LARCH, 12.0, set_share=0.3), Ply(LARCH, 7.0), Ply(SAPELE, 10.0, set_per_mm=1 / 4000)]
DEPTH, KAPPA = 38.0, 1 / 1100


def stress_at(u, plies=STACK, kappa=KAPPA):
    return float(locked_stress(stack_along(plies, [0.0]), [kappa], [u])[0, 0])


def test_locked_stress_balances():
    # a free packet carries neither force nor moment at any section
    seams = np.array([10.0, 17.0, 29.0])
    force, _ = quad(stress_at, 0, DEPTH, points=seams, limit=200)
    turning, _ = quad(lambda u: u * stress_at(u), 0, DEPTH, points=seams, limit=200)
    assert abs(force) < 1e-6
    assert abs(turning) < 1e-4
    assert abs(stress_at(0.0)) > 3
    assert stress_at(-1.0) == stress_at(DEPTH + 1) == 0


def test_outer_fibre_of_equal_laminations_by_hand():
    # Eκ [(t/2) - (1/n²)(nt/2)] = Eκ (t/2)(1 - 1/n): tension outside
    n, t = 5, 8.0
    outer = stress_at(0.0, [Ply(LARCH, t)] * n)
    assert outer == pytest.approx(LARCH.bending_modulus_mpa * KAPPA * t / 2 * (1 - 1 / n))


def test_ripping_alone_moves_nothing():
    along = stack_along(STACK, [0.0])
    moved = movement(along, [0.0], [DEPTH], [0.0], 45.0)
    for part in (moved.curvature(KAPPA), moved.sideways(KAPPA), moved.stretch * KAPPA + moved.stretch_given):
        assert abs(part[0]) < 1e-12


@pytest.mark.parametrize(("outer", "inner"), [(2.0, 2.0), (0.0, 9.0), (4.0, 0.0)])
def test_planing_against_quadrature(outer, inner):
    # the definition: what is left must carry neither force nor moment; curvature by EI of what is left
    low, high = outer, DEPTH - inner
    modulus = {10.0: SAPELE, 17.0: LARCH, 29.0: LARCH, 38.0: SAPELE}
    e = lambda u: next(t.bending_modulus_mpa for top, t in modulus.items() if u < top)  # noqa: E731
    seams = [x for x in (10.0, 17.0, 29.0) if low < x < high]
    total = lambda f: quad(f, low, high, points=seams, limit=200)[0]  # noqa: E731
    middle = total(lambda u: e(u) * u) / total(e)
    stiff = total(lambda u: e(u) * (u - middle) ** 2)
    moment = total(lambda u: stress_at(u) * (u - middle))
    along = stack_along(STACK, [0.0])
    moved = movement(along, [outer], [high - low], [0.0], 45.0)
    assert moved.curvature(KAPPA)[0] == pytest.approx(moment / stiff, rel=1e-6)
    assert abs(moved.sideways(KAPPA)[0]) < 1e-12


def test_bevelling_bends_the_halves_sideways_against_quadrature():
    # one timber: 3 × 3 balance over the parallelogram, by another integrator
    plies, sided, outer, moulded, slope = [Ply(LARCH, 9.5)] * 4, 40.0, 3.0, 30.0, 0.04
    e = LARCH.bending_modulus_mpa
    low, high = (lambda z: outer - slope * z), (lambda z: outer - slope * z + moulded)
    total = lambda f: dblquad(f, 0, sided, low, high, epsabs=1e-3, epsrel=1e-4)[0]  # noqa: E731
    powers = ((0, 0), (1, 0), (0, 1))
    stiff = np.array([[e * total(lambda u, z, i=i, j=j: u ** (i[0] + j[0]) * z ** (i[1] + j[1])) for j in powers]
                      for i in powers])  # fmt: skip
    z, w = np.polynomial.legendre.leggauss(40)
    z, w = sided * (z + 1) / 2, sided * w / 2
    load = np.zeros(3)
    for place, weight in zip(z, w, strict=True):
        edges = np.array([low(place), 9.5, 19.0, 28.5, high(place)])
        node, share = np.polynomial.legendre.leggauss(4)
        half, middle = np.diff(edges) / 2, (edges[1:] + edges[:-1]) / 2
        u, du = (middle[:, None] + half[:, None] * node).ravel(), (half[:, None] * share).ravel()
        sigma = locked_stress(stack_along(plies, [0.0]), [KAPPA], u)[0]
        load -= weight * np.array([(sigma * du).sum(), (sigma * u * du).sum(), place * (sigma * du).sum()])
    _, a, b = np.linalg.solve(stiff, load)
    moved = movement(stack_along(plies, [0.0]), [outer], [moulded], [slope], sided)
    assert moved.curvature(KAPPA)[0] == pytest.approx(-a, rel=1e-5)
    assert moved.sideways(KAPPA)[0] == pytest.approx(b, rel=1e-5)
    assert abs(b) > 1e-9


def test_a_section_off_the_packet_is_refused():
    with pytest.raises(BadLamination, match="finished section lies outside the packet"):
        movement(stack_along(STACK, [0.0]), [60.0], [20.0], [0.0], 45.0)


CHOICE = FrameChoice(frame="14", timber="larch", count=8)


@pytest.mark.parametrize("shape", [circle(1500.0, bevel=0.1), s_shape(bevel=0.05)])
def test_the_finished_shape_is_foretold_and_allowed_for(shape):
    plain, allowed = (design_frame(shape, replace(CHOICE, allow_for_cleaning=way)) for way in (False, True))
    seen = plain.prediction
    assert np.abs(seen.off_jig_out_mm).max() < 0.01  # off the jig it is the line wanted
    assert seen.later_mm > 2.5  # and once cleaned off it is not: nearly the springback, the other way
    check = next(check for check in plain.checks if check.name.startswith("Shape once cleaned"))
    assert not check.ok
    assert "allow for cleaning off" in check.caution
    other = allowed.prediction
    assert np.abs(other.finished_out_mm).max() < 0.1
    assert other.later_mm == pytest.approx(seen.later_mm, rel=0.05)
    assert next(check for check in allowed.checks if check.name.startswith("Shape once cleaned")).ok
    # a slacker jig: the chord of the face grows
    chord = [np.hypot(*(d.jig.face_mm[-1] - d.jig.face_mm[0])) for d in (plain, allowed)]
    assert (
        chord[1] > chord[0] + 1 or np.abs(plain.jig.curvature_per_mm).max() > np.abs(allowed.jig.curvature_per_mm).max()
    )


def test_the_band_is_what_another_factor_would_give():
    # a jig set for c = 1, the packet giving back 1.15: its shape stands one sd off
    seen = design_frame(circle(1500.0), CHOICE).prediction
    r, radius = 1 / 64, 1500.0
    # sagitta of the quarter circle changes by about r c_sd of itself; the fit halves and shares it
    rise = radius * (1 - np.cos(np.pi / 4))
    assert 0.3 * 0.15 * r * rise < seen.sd_mm.max() < 0.15 * r * rise
    assert seen.factor_sd == 0.15


def test_a_straight_frame_does_not_move():
    seen = design_frame(straight(), FrameChoice(timber="larch")).prediction
    assert seen.later_mm < 1e-6
    assert np.abs(seen.sideways_mm).max() < 1e-6

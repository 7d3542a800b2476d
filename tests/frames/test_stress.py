"""Locked-in stress: it balances, ripping frees none of it, and what planing frees is the integral over what is left."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad
from sections import circle, s_shape, straight

from scrieve.errors import BadLamination
from scrieve.frames import FrameChoice, design_frame
from scrieve.frames.packet.stack import Ply, stack_along
from scrieve.frames.packet.stress import locked_stress, movement
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
    assert abs(turning) < 1e-2  # beside hundreds of N for each mm of width in either half
    assert abs(stress_at(0.0)) > 3
    assert stress_at(-1.0) == stress_at(DEPTH + 1) == 0


def test_outer_fibre_of_equal_laminations_by_hand():
    # Eκ [(t/2) - (1/n²)(nt/2)] = Eκ (t/2)(1 - 1/n): tension outside; of a slight curve, so that all lie on one radius
    n, t, kappa = 5, 8.0, 1e-8
    outer = stress_at(0.0, [Ply(LARCH, t)] * n, kappa)
    assert outer == pytest.approx(LARCH.bending_modulus_mpa * kappa * t / 2 * (1 - 1 / n))


def test_ripping_alone_moves_nothing():
    along = stack_along(STACK, [0.0])
    moved = movement(along, [KAPPA], [0.0], [DEPTH], [0.0], 45.0)
    for part in (moved.curvature(KAPPA), moved.sideways(KAPPA), moved.stretched(KAPPA)):
        assert abs(part[0]) < 1e-12


def strain_free(plies):
    """Length of each fibre as it lay loose, over its length in the jig, and its modulus, as functions of depth u.

    By the definition alone: bent about its own middle from its own natural curve, on its own radius in the jig.
    """
    faces = np.cumsum([0.0, *(ply.thickness_mm for ply in plies[::-1])])  # from the outer face
    e = np.array([ply.timber.bending_modulus_mpa for ply in plies[::-1]])
    middles, t = (faces[1:] + faces[:-1]) / 2, np.diff(faces)
    neutral = (e * t * middles).sum() / (e * t).sum()

    def at(u):
        k = np.clip(np.searchsorted(faces, u, side="right") - 1, 0, len(e) - 1)
        ply = [plies[::-1][int(i)] for i in np.ravel(k)]
        natural = np.array([KAPPA / (1 - KAPPA * (middles[i] - neutral)) * p.set_share + p.set_per_mm
                            for i, p in zip(np.ravel(k), ply, strict=True)]).reshape(np.shape(k))  # fmt: skip
        own = KAPPA / (1 - KAPPA * (middles[k] - neutral))
        return (1 - KAPPA * (u - neutral)) / (1 - (own - natural) * (u - middles[k])), e[k]

    return at, faces, neutral


def at_rest(plies, low, high, sided):
    """Length, turn and sideways turn of the neutral line, for each mm of it in the jig, of least energy by quadrature.

    A fibre L long, L₀ loose, bears E (L/L₀ - 1); energy is for each mm² of the loose wood.
    """
    at, faces, neutral = strain_free(plies)
    z, across = np.polynomial.legendre.leggauss(40)
    z, across = sided * (z + 1) / 2, sided * across / 2
    node, share = np.polynomial.legendre.leggauss(6)
    u, area, side = [], [], []
    for place, wide in zip(z, across, strict=True):
        edges = np.unique(np.clip([low(place), *faces, high(place)], low(place), high(place)))
        half, middle = np.diff(edges)[:, None] / 2, (edges[1:] + edges[:-1])[:, None] / 2
        u.append((middle + half * node).ravel())
        area.append((half * share).ravel() * wide)
        side.append(np.full(u[-1].shape, place))
    u, area, side = map(np.concatenate, (u, area, side))
    loose, e = at(u)
    arms = np.stack([np.ones_like(u), -(u - neutral), side])

    weight, scale = np.sqrt(e * area * loose), np.array([1.0, 100.0, 100.0])
    fibres = arms / scale[:, None] / loose
    return np.linalg.lstsq((fibres * weight).T, weight, rcond=None)[0] / scale


@pytest.mark.parametrize(
    ("plies", "outer", "moulded", "slope"),
    [
        (STACK, 2.0, 34.0, 0.0),
        (STACK, 0.0, 29.0, 0.0),
        (STACK, 4.0, 34.0, 0.0),
        ([Ply(LARCH, 9.5)] * 4, 3.0, 30.0, 0.04),  # a bevel: the halves bend sideways
    ],
)
def test_what_is_left_comes_to_rest(plies, outer, moulded, slope):
    sided = 40.0
    whole = at_rest(plies, lambda _: 0.0, lambda _: DEPTH, sided)
    left = at_rest(plies, lambda z: outer - slope * z, lambda z: outer - slope * z + moulded, sided)
    moved = movement(stack_along(plies, [0.0]), [KAPPA], [outer], [moulded], [slope], sided)
    longer, turned, sideways = left - whole
    assert moved.curvature(KAPPA)[0] == pytest.approx(turned, rel=1e-5)
    assert moved.stretched(KAPPA)[0] == pytest.approx(longer, rel=1e-5)
    assert moved.sideways(KAPPA)[0] == pytest.approx(sideways, rel=1e-5, abs=1e-12)
    assert (abs(sideways) > 1e-9) == (slope != 0)


def test_a_section_off_the_packet_is_refused():
    with pytest.raises(BadLamination, match="finished section lies outside the packet"):
        movement(stack_along(STACK, [0.0]), [KAPPA], [60.0], [20.0], [0.0], 45.0)


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

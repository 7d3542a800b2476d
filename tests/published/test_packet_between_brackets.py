"""The packet between brackets against the elastica's own equations, solved by SciPy's `solve_bvp`.

Source: Love, Mathematical Theory of Elasticity, art. 262-263: a thin rod bent in its plane, κ = κ₀ + M/B, M' = Q,
Q' = -κT, T' = κQ. Pushed square to itself at points, position, direction, moment and pull go on through each; M and T
are 0 at its free ends; only its middle bracket keeps it from sliding. Of an even straight lath that is κ'' = -κ³/2.
"""

import numpy as np
import pytest
from scipy.integrate import solve_bvp
from scipy.interpolate import CubicSpline

from scrieve.frames.packet.lying import lie_between
from scrieve.frames.shape.line import from_curvature


def by_its_equations(points, held_at=0.0, stiff=np.ones_like, own=np.zeros_like):
    """x, y, θ, M, Q, T over each bay's own length, all bays side by side, in units of the mean chord; `stiff` and
    `own` tell B and κ₀ at places along the rod, which is held at `held_at` by its middle bracket."""
    bays, mid = len(points) - 1, len(points) // 2
    chords = np.hypot(*np.diff(points, axis=0).T)
    run = np.r_[0.0, np.cumsum(chords)]
    guess, t = CubicSpline(run, points, bc_type="natural"), np.linspace(0, 1, 25)
    start, first = np.zeros((6 * bays, len(t))), held_at - run[mid]
    scale = float(chords.mean())  # in units of a bay, so that all unknowns are of one size
    for i in range(bays):
        s = run[i] + chords[i] * t
        d, dd = guess(s, 1), guess(s, 2)
        start[6 * i : 6 * i + 2] = guess(s).T / scale
        start[6 * i + 2] = np.arctan2(d[:, 1], d[:, 0])
        kappa = (d[:, 0] * dd[:, 1] - d[:, 1] * dd[:, 0]) / np.hypot(*d.T) ** 3
        start[6 * i + 3] = (kappa - own(first + s)) * stiff(first + s) * scale
    start[2::6] = np.unwrap(start[2::6].ravel()).reshape(bays, -1)

    def rates(u, v, p):
        out = np.empty_like(v)
        x, y, way, moment, shear, pull = (slice(i, None, 6) for i in range(6))
        length = p[:, None]
        at = held_at + scale * (np.r_[0.0, np.cumsum(p)[:-1]][:, None] - p[:mid].sum() + length * u)
        kappa = own(at) * scale + v[moment] / stiff(at)
        out[x], out[y] = length * np.cos(v[way]), length * np.sin(v[way])
        out[way], out[moment] = length * kappa, length * v[shear]
        out[shear], out[pull] = -length * kappa * v[pull], length * kappa * v[shear]
        return out

    def ends(a, b, _):
        a, b = a.reshape(bays, 6), b.reshape(bays, 6)
        pins = [(a[:, :2] - points[:-1] / scale).ravel(), (b[:, :2] - points[1:] / scale).ravel()]
        through = (a[1:, [2, 3, 5]] - b[:-1, [2, 3, 5]]).ravel()
        free = [a[0, 3], a[0, 5], b[-1, 3], b[-1, 5]]
        return np.concatenate([*pins, np.delete(through, 3 * mid - 1), free])

    found = solve_bvp(rates, ends, t, start, p=chords / scale, tol=1e-6, max_nodes=20_000)
    assert found.success, found.message
    return found.sol, scale


def departure_by_its_equations(wanted, stations, off, **rod):
    """How far that solution lies to the left of the wanted curve there, and at which stations."""
    normal = np.column_stack([np.interp(stations, wanted.s_mm, c) for c in wanted.left.T])
    points = np.column_stack([np.interp(stations, wanted.s_mm, c) for c in wanted.points_mm.T])
    solution, scale = by_its_equations(points + off[:, None] * normal, float(stations[len(stations) // 2]), **rod)
    u = solution(np.linspace(0, 1, 400))
    lies = np.column_stack([u[0::6].ravel(), u[1::6].ravel()]) * scale
    s = wanted.s_mm[np.hypot(*(lies[:, None] - wanted.points_mm[None, ::5]).transpose(2, 0, 1)).argmin(axis=1) * 5]
    for _ in range(8):  # the foot, by steps along the tangent
        point = np.column_stack([np.interp(s, wanted.s_mm, c) for c in wanted.points_mm.T])
        angle = np.interp(s, wanted.s_mm, wanted.angle_rad)
        s = s + ((lies - point) * np.column_stack([np.cos(angle), np.sin(angle)])).sum(axis=1)
    square = ((lies - point) * np.column_stack([-np.sin(angle), np.cos(angle)])).sum(axis=1)
    jumps = np.diff(np.r_[0.0, np.ravel(np.column_stack([solution(0)[4::6], solution(1)[4::6]])), 0.0])[::2]
    return s, square, jumps / scale**2


def arc(radius, length):
    s = np.arange(length + 1.0)
    return from_curvature(s, np.full(len(s), 1 / radius), np.zeros(2), 0.3)


def s_shaped(length=2600, most=1 / 700):
    s = np.arange(length + 1.0)
    return from_curvature(s, most * np.sin(2 * np.pi * s / length), np.zeros(2), -0.2)


CASES = {
    "R 0.6 m": (arc(600.0, 1500), np.linspace(30, 1470, 8)),
    "R 0.6 m, wide apart": (arc(600.0, 1500), np.linspace(30, 1470, 5)),
    "S-shape": (s_shaped(), np.linspace(60, 2540, 10)),
    "R 2 m, ends doubled": (arc(2000.0, 2400), np.r_[50, 110, np.linspace(350, 2050, 7), 2290, 2350]),
}


@pytest.mark.parametrize("off", [0.0, 2.0])
@pytest.mark.parametrize("name", CASES)
def test_packet_lies_as_the_elastica_does(name, off):
    wanted, stations = CASES[name]
    shift = off * np.sin(3.1 * np.arange(len(stations)))  # brackets left where they stood, up to 2 mm off
    at, square, jumps = departure_by_its_equations(wanted, stations, shift)
    lie = lie_between(wanted, stations, shift, within=(float(stations[0]), float(stations[-1])))
    order = np.argsort(at, kind="stable")
    there = np.interp(lie.s_mm, at[order], square[order])
    assert np.abs(lie.departure_mm - there).max() < 0.05  # the bar; measured 0.002 at most
    # EI κ' jumps at a bracket by its force
    np.testing.assert_allclose(lie.force_per_ei, jumps, rtol=0.02, atol=0.02 * np.abs(jumps).max())


def dropped(s):
    """Stiffness that falls to 0.55 where laminations end at 1.2 m."""
    return 1 - 0.45 / (1 + np.exp(-(s - 1200) / 6))


@pytest.mark.parametrize("name", ["R 0.6 m, wide apart", "S-shape"])
def test_dropped_and_pre_bent_laminations_lie_as_the_rod_does(name):
    wanted, stations = CASES[name]

    def held(s):  # 45 % of the curve is in the wood before it is laid up, more of it towards the head
        return (0.45 + s / 6000) * np.interp(s, wanted.s_mm, wanted.curvature_per_mm)

    off = np.zeros(len(stations))
    at, square, jumps = departure_by_its_equations(wanted, stations, off, stiff=dropped, own=held)
    within, s = (float(stations[0]), float(stations[-1])), wanted.s_mm
    lie = lie_between(wanted, stations, within=within, stiff=dropped(s), held_per_mm=held(s))
    order = np.argsort(at, kind="stable")
    there = np.interp(lie.s_mm, at[order], square[order])
    assert np.abs(lie.departure_mm - there).max() < 0.05  # the bar
    even = lie_between(wanted, stations, within=within)
    assert np.abs(even.departure_mm - there).max() > 0.3  # an even straight lath lies elsewhere
    np.testing.assert_allclose(lie.force_per_ei, jumps, rtol=0.02, atol=0.02 * np.abs(jumps).max())

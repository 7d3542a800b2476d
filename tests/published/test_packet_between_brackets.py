"""The packet between brackets against the elastica's own equations, solved by SciPy's `solve_bvp`.

Source: Love, Mathematical Theory of Elasticity, art. 262-263: of a lath with no pull along it, κ'' = -κ³/2 between
points where it is pushed square to itself; position, direction and κ go on through each bracket, κ is 0 at free ends.
"""

import numpy as np
import pytest
from scipy.integrate import solve_bvp
from scipy.interpolate import CubicSpline

from scrieve.frames.line import from_curvature
from scrieve.frames.packet import lie_between


def by_its_equations(points):
    """x, y, θ, κ, κ' over each bay's own length, all bays side by side, in units of the mean chord."""
    bays = len(points) - 1
    chords = np.hypot(*np.diff(points, axis=0).T)
    run = np.r_[0.0, np.cumsum(chords)]
    guess, t = CubicSpline(run, points, bc_type="natural"), np.linspace(0, 1, 25)
    start = np.zeros((5 * bays, len(t)))
    for i in range(bays):
        s = run[i] + chords[i] * t
        d, dd = guess(s, 1), guess(s, 2)
        start[5 * i : 5 * i + 2] = guess(s).T
        start[5 * i + 2] = np.arctan2(d[:, 1], d[:, 0])
        start[5 * i + 3] = (d[:, 0] * dd[:, 1] - d[:, 1] * dd[:, 0]) / np.hypot(*d.T) ** 3
    start[2::5] = np.unwrap(start[2::5].ravel()).reshape(bays, -1)
    scale = float(chords.mean())  # in units of a bay, so that all unknowns are of one size

    def rates(_, u, p):
        out = np.empty_like(u)
        x, y, way, bend, change = (slice(i, None, 5) for i in range(5))
        length = p[:, None]
        out[x], out[y] = length * np.cos(u[way]), length * np.sin(u[way])
        out[way], out[bend], out[change] = length * u[bend], length * u[change], -length * u[bend] ** 3 / 2
        return out

    def ends(a, b, _):
        a, b = a.reshape(bays, 5), b.reshape(bays, 5)
        pins = [(a[:, :2] - points[:-1] / scale).ravel(), (b[:, :2] - points[1:] / scale).ravel()]
        through = [(a[1:, 2:4] - b[:-1, 2:4]).ravel(), [a[0, 3], b[-1, 3]]]
        return np.concatenate([*pins, *through])

    start[0::5] /= scale
    start[1::5] /= scale
    start[3::5] *= scale
    found = solve_bvp(rates, ends, t, start, p=chords / scale, tol=1e-6, max_nodes=20_000)
    assert found.success, found.message
    return found.sol, scale


def departure_by_its_equations(wanted, stations, off):
    """How far that solution lies to the left of the wanted curve there, and at which stations."""
    normal = np.column_stack([np.interp(stations, wanted.s_mm, c) for c in wanted.left.T])
    points = np.column_stack([np.interp(stations, wanted.s_mm, c) for c in wanted.points_mm.T])
    solution, scale = by_its_equations(points + off[:, None] * normal)
    u = solution(np.linspace(0, 1, 400))
    lies = np.column_stack([u[0::5].ravel(), u[1::5].ravel()]) * scale
    s = wanted.s_mm[np.hypot(*(lies[:, None] - wanted.points_mm[None, ::5]).transpose(2, 0, 1)).argmin(axis=1) * 5]
    for _ in range(8):  # the foot, by steps along the tangent
        point = np.column_stack([np.interp(s, wanted.s_mm, c) for c in wanted.points_mm.T])
        angle = np.interp(s, wanted.s_mm, wanted.angle_rad)
        s = s + ((lies - point) * np.column_stack([np.cos(angle), np.sin(angle)])).sum(axis=1)
    square = ((lies - point) * np.column_stack([-np.sin(angle), np.cos(angle)])).sum(axis=1)
    jumps = np.diff(np.r_[0.0, np.ravel(np.column_stack([solution(0)[4::5], solution(1)[4::5]])), 0.0])[::2]
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
    assert np.abs(lie.departure_mm - there).max() < 0.05  # the bar; measured 0.004 at most
    # EI κ' jumps at a bracket by its force
    np.testing.assert_allclose(lie.force_per_ei, jumps, rtol=0.02, atol=0.02 * np.abs(jumps).max())

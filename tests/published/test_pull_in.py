"""Pulling a frame in, against beam theory in closed form and a frame of straight finite elements.

Closed forms: a simply supported beam with one force, any book on strength of materials (F = 48 EI d/L³ at the middle,
3 EI L d/(a² b²) elsewhere); the cantilevered quarter ring under a radial force, δ = π F R³/(4 EI) (Timoshenko,
Castigliano's theorem). The finite elements are two-node Euler-Bernoulli members of the textbook stiffness matrix.
"""

from itertools import pairwise

import numpy as np
import pytest
from scipy.optimize import linprog

from scrieve.frames.release.deviation import deviation
from scrieve.frames.release.measured import measured_offsets
from scrieve.frames.release.remedy import pull_in
from scrieve.frames.shape.displacement import Target, displaced, rigid_columns, without_rigid

EI = 2.4e10


def line(points):
    s = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    return Target(s, points)


def straight(length=3000.0):
    s = np.linspace(0, length, 301)
    return Target(s, np.column_stack([0 * s, s]))


def arc(radius=1100.0, turn=1.5, n=201):
    a = np.linspace(0, turn, n)
    return Target(radius * a, radius * np.column_stack([np.sin(a), 1 - np.cos(a)]))


def found_on(target, shape, tolerance=2.0, sigma=0.02):
    s = np.linspace(0, target.length_mm, 15)
    return deviation(target, measured_offsets(target, s, shape(s / target.length_mm), sigma), tolerance_mm=tolerance)


@pytest.mark.parametrize("share", [0.5, 0.3])
def test_three_fastenings_on_a_straight_frame(share):
    target = straight()
    bowed = found_on(target, lambda u: 30 * u * (1 - u))
    places = np.array([0, share, 1.0]) * target.length_mm
    pulled = pull_in(bowed, places, EI, 1e9)
    d = bowed.at(places)[0]
    a, b, length = share * target.length_mm, (1 - share) * target.length_mm, target.length_mm
    sag = d[1] - (d[0] * b + d[2] * a) / length
    force = -3 * EI * length * sag / (a**2 * b**2)  # inward where the frame stands proud
    assert pulled.forces_n[1] == pytest.approx(force, rel=2e-3)  # the moments are summed by trapezia of 10 mm
    np.testing.assert_allclose(pulled.forces_n[[0, 2]], [-force * b / length, -force * a / length], rtol=2e-3)
    assert pulled.forces_n.sum() == pytest.approx(0, abs=1e-6 * abs(force))
    assert pulled.moment_nmm <= abs(force) * a * b / length * 1.01


def test_quarter_ring():
    # Timoshenko: fixed at one end, radial force F at the other: radial movement π F R³/(4 EI)
    target = arc(1000.0, np.pi / 2, 2001)
    moment = 1000.0 * np.sin(np.pi / 2 - target.s_mm / 1000.0) / EI  # of F = 1 N outward at the head, about each place
    moved = displaced(target, -moment)[-1]
    assert abs(moved @ target.outward[-1]) == pytest.approx(np.pi / 4 * 1000**3 / EI, rel=1e-5)


def element_frame(points, ei, ea):
    """Stiffness matrix (3n, 3n) of a plane frame of straight members: u, v and turn at each node."""
    stiffness = np.zeros((3 * len(points), 3 * len(points)))
    for i, (p, q) in enumerate(pairwise(points)):
        length = np.hypot(*(q - p))
        c, s = (q - p) / length
        a, b = ea / length, ei / length**3
        bend = b * np.array(
            [
                [12, 6 * length, -12, 6 * length],
                [6 * length, 4 * length**2, -6 * length, 2 * length**2],
                [-12, -6 * length, 12, -6 * length],
                [6 * length, 2 * length**2, -6 * length, 4 * length**2],
            ]
        )
        local = np.zeros((6, 6))
        local[np.ix_([1, 2, 4, 5], [1, 2, 4, 5])] = bend
        local[np.ix_([0, 3], [0, 3])] = a * np.array([[1, -1], [-1, 1]])
        turn = np.kron(np.eye(2), np.array([[c, s, 0], [-s, c, 0], [0, 0, 1]]))
        at = np.r_[3 * i : 3 * i + 6]
        stiffness[np.ix_(at, at)] += turn.T @ local @ turn
    return stiffness


@pytest.mark.parametrize("nodes", [[0, 50, 100, 150, 200], [10, 80, 145, 190], [0, 90, 200]])
def test_a_curved_frame_against_finite_elements(nodes):
    target = arc()
    nodes = np.array(nodes)
    sprung = found_on(target, lambda u: 8 * np.cos(2.4 * u) + 3 * np.sin(7 * u))
    pulled = pull_in(sprung, target.s_mm[nodes], EI, 1e9)
    # the same forces on the elements: square to the frame at each fastening; along it, at the first, what balances
    stiffness = element_frame(target.points_mm, EI, 1e4 * EI / 1000.0)
    load = np.zeros(3 * len(target.s_mm))
    for node, force in zip(nodes, pulled.forces_n, strict=True):
        load[3 * node : 3 * node + 2] += force * target.outward[node]
    total = load.reshape(-1, 3)[:, :2].sum(axis=0)
    load[3 * nodes[0] : 3 * nodes[0] + 2] -= total
    assert abs(total @ target.outward[nodes[0]]) < 2e-3 * np.abs(pulled.forces_n).max()  # it lies along the frame
    free = np.arange(3, len(load))  # held at the heel: it balances without that, so nothing is taken up there
    moved = np.zeros_like(load)
    moved[free] = np.linalg.solve(stiffness[np.ix_(free, free)], load[free])
    reaction = stiffness[:3] @ moved - load[:3]
    assert np.abs(reaction[:2]).max() < 5e-3 * np.abs(pulled.forces_n).max()
    outward = (moved.reshape(-1, 3)[:, :2] * target.outward).sum(axis=1)
    # moved as a whole so that the first fastening stays along the frame: the deviation at every fastening is closed
    closed = sprung.at(target.s_mm[nodes])[0] + outward[nodes]
    columns = rigid_columns(target)[nodes]
    if len(nodes) > 3:
        rest = without_rigid(columns, closed)
        assert np.abs(rest).max() < 2e-3 * np.abs(outward[nodes]).max()
    if len(nodes) == 5:
        assert pulled.left_mm < 0.5


def test_the_least_forces_bring_it_within_tolerance_by_another_computation():
    target = arc()
    sprung = found_on(target, lambda u: 6 * np.cos(6 * u), tolerance=1.5)
    nodes = np.array([0, 40, 80, 120, 160, 200])
    pulled = pull_in(sprung, target.s_mm[nodes], EI, 1e9)
    assert pulled.least_n < np.abs(pulled.forces_n).max()
    stiffness = element_frame(target.points_mm, EI, 1e4 * EI / 1000.0)
    load = np.zeros(3 * len(target.s_mm))
    for node, force in zip(nodes, pulled.least_forces_n, strict=True):
        load[3 * node : 3 * node + 2] += force * target.outward[node]
    load[:2] -= load.reshape(-1, 3)[:, :2].sum(axis=0)
    moved = np.zeros_like(load)
    moved[3:] = np.linalg.solve(stiffness[3:, 3:], load[3:])
    shape = sprung.deviation_mm + (moved.reshape(-1, 3)[:, :2] * target.outward).sum(axis=1)
    assert least_greatest(target, shape) == pytest.approx(1.5, rel=0.06)  # less two sd of 0.02 mm
    assert least_greatest(target, sprung.deviation_mm) > 2.5


def least_greatest(target, shape):
    """The greatest distance from the line when the frame is laid on it so that this is least: a linear programme."""
    columns = rigid_columns(target)
    rows = np.vstack([np.column_stack([sign * columns, -np.ones(len(shape))]) for sign in (1, -1)])
    return linprog([0, 0, 0, 1], A_ub=rows, b_ub=np.concatenate([-shape, shape]), bounds=[(None, None)] * 4).fun


def test_force_goes_with_stiffness_and_with_the_deviation():
    target = straight()
    shape = lambda u: 30 * u * (1 - u)  # noqa: E731
    places = [0, 900, 1800, 3000]
    once = pull_in(found_on(target, shape), places, EI, 1e9)
    stiffer = pull_in(found_on(target, shape), places, np.full(301, 3 * EI), 1e9)
    np.testing.assert_allclose(stiffer.forces_n, 3 * once.forces_n, rtol=1e-6)
    assert stiffer.least_n == pytest.approx(3 * once.least_n, rel=1e-6)

"""The Wigley hull taken off in each way with seeded errors: the points lie off the true hull as their covariance says.

Source of the form: the analytic test hull of ship hydrodynamics, y = (B/2)(1 − (2x/L)²)(1 − (z/T)²), z from the
waterline. Where the covariance is right, d'C⁻¹d of each point's error d is chi-square with two degrees of freedom: its
mean is 2, and it is under 5.991 in 95 of 100 cases (any table of chi-square).
"""

import numpy as np
import pytest

from scrieve.takeoff.reading import read_taken

L, B, T = 15000.0, 3000.0, 1200.0
SIGMA, KNOWN = 1.5, 1.0


def true_points():
    """Ten frames: label, station, and eleven points from heel to head, a little clear of the centreplane."""
    z = np.linspace(-T * 0.97, 0, 11)
    return [
        (str(n), x + L / 2, np.column_stack([B / 2 * (1 - (2 * x / L) ** 2) * (1 - (z / T) ** 2), z + T]))
        for n, x in enumerate(np.linspace(-5000, 5000, 10), start=1)
    ]


def ordinates(rng):
    yield "frame,station,mark,edge,from_height,from_half_breadth,to_height,to_half_breadth,along,off,lies,end_sigma"
    for frame, station, points in true_points():
        for i, point in enumerate(points):  # a straight-edge set up anew for each mark, so that errors are independent
            one, two = np.array([900.0, -300.0]), np.array([2100.0, 1500.0])
            u = (two - one) / np.hypot(*(two - one))
            along, off = (point - one) @ u, (point - one) @ [-u[1], u[0]]
            (b0, h0), (b1, h1) = one + rng.normal(0, KNOWN, 2), two + rng.normal(0, KNOWN, 2)
            along, off = along + rng.normal(0, SIGMA), off + rng.normal(0, SIGMA)
            yield f"{frame},{station},m{i},e{i},{h0},{b0},{h1},{b1},{along},{off},in,{KNOWN}"


def tapes(rng):
    yield "frame,station,mark,nail,nail_height,nail_half_breadth,tape,lies,nail_sigma"
    for frame, station, points in true_points():
        for i, point in enumerate(points):
            for k, nail in enumerate([[900.0, -700.0], [2500.0, 600.0], [2200.0, 1900.0]]):
                b, h = nail + rng.normal(0, KNOWN, 2)
                tape = np.hypot(*(point - nail)) + rng.normal(0, SIGMA)
                yield f"{frame},{station},m{i},{k}-{i},{h},{b},{tape},{'in' if k == 0 else ''},{KNOWN}"


def templates(rng):
    yield "frame,station,template,mark,x,y,height,half_breadth,turned,sigma"
    known = np.array([[1500.0, 0.0], [1700.0, 900.0], [600.0, -200.0]])
    for frame, station, points in true_points():
        for i, point in enumerate(points):  # a template for each mark, for the same reason
            turn = rng.uniform(-3, 3)
            way = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
            for name, place in zip("abc", known, strict=True):
                x, y = (place - [700, 300]) @ way * [-1, 1] + rng.normal(0, SIGMA, 2)
                yield f"{frame},{station},t{i},{name},{x},{y},{place[1]},{place[0]},,{SIGMA}"
            x, y = (point - [700, 300]) @ way * [-1, 1] + rng.normal(0, SIGMA, 2)
            yield f"{frame},{station},t{i},m{i},{x},{y},,,,{SIGMA}"


def arcs(rng):
    yield "frame,station,how,mark,edge,at_height,at_half_breadth,opening,lies,at_sigma"
    for frame, station, points in true_points():
        for i, point in enumerate(points):
            for centre in point + np.array([[160.0, 140.0], [210.0, -30.0]]):
                b, h = centre + rng.normal(0, KNOWN, 2)
                opening = np.hypot(*(point - centre)) + rng.normal(0, SIGMA)
                yield f"{frame},{station},arc,m{i},,{h},{b},{opening},in,{KNOWN}"


@pytest.mark.parametrize("way", [ordinates, tapes, templates, arcs])
def test_points_lie_off_the_hull_as_their_covariance_says(way):
    text = "\n".join(way(np.random.default_rng(12)))
    found, taken = read_taken(text.encode(), "w.csv", sigma_mm=SIGMA)
    assert (found, taken.bad) == (way.__name__, ())
    assert len(taken.marks) == 110
    truth = {(frame, f"m{i}"): p for frame, _, points in true_points() for i, p in enumerate(points)}
    square = []
    for mark in taken.marks:
        miss = np.array([mark.half_breadth_mm, mark.height_mm]) - truth[mark.frame, mark.label]
        square.append(miss @ np.linalg.solve(mark.covariance_mm2(SIGMA), miss))
    assert np.mean(square) == pytest.approx(2, abs=0.6)  # three standard errors of a mean of 110: 3 x 2 / √110
    assert np.mean(np.array(square) < 5.991) == pytest.approx(0.95, abs=0.063)  # three of a share: 3 x √(.95 x .05/110)

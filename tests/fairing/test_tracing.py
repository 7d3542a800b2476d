"""The tracer of zeros, against circles and against laws that hold for any function.

Laws: every sign change along a side of the net is a point of some line, once; lines end only at the edge of the net, as
often as the sign changes round it; a function and its negative vanish in the same places.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scrieve.fairing.tracing import trace

X, V = np.linspace(-1.0, 1.0, 31), np.linspace(0.0, 1.0, 23)


def changes(function):
    """Sign changes along all sides of the net, and along its edge."""
    value = function(np.repeat(X, len(V)), np.tile(V, len(X))).reshape(len(X), len(V)) >= 0
    inside = int((value[1:] != value[:-1]).sum() + (value[:, 1:] != value[:, :-1]).sum())
    edge = np.concatenate([value[:, 0], value[-1, 1:], value[::-1, -1][1:], value[0, ::-1][1:]])
    return inside, int((edge[1:] != edge[:-1]).sum())


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(1, 4))
def test_nothing_is_lost_and_nothing_ends_in_mid_air(seed, waves):
    rng = np.random.default_rng(seed)
    size, phase, k = rng.normal(size=(3, 6)), rng.uniform(0, 6.3, (3, 6)), rng.normal(0, waves, (3, 6))

    def function(x, v):
        return (size[0, :, None] * np.cos(k[0][:, None] * x + k[1][:, None] * v + phase[0][:, None])).sum(axis=0)

    found = trace(function, X, V)
    inside, edge = changes(function)
    assert sum(len(line.x) - line.closed for line in found) == inside
    assert 2 * sum(not line.closed for line in found) == edge
    for line in found:
        assert np.abs(function(line.x, line.v)).max() < 1e-12 * np.abs(size[0]).sum()
        if line.closed:
            assert (line.x[0], line.v[0]) == (line.x[-1], line.v[-1])
        else:
            for i in (0, -1):
                assert line.x[i] in (-1.0, 1.0) or line.v[i] in (0.0, 1.0)
            assert line.x[0] <= line.x[-1]
        # neighbours lie in one mesh
        assert np.abs(np.diff(line.x)).max() <= X[1] - X[0] + 1e-12
        assert np.abs(np.diff(line.v)).max() <= V[1] - V[0] + 1e-12
    turned = trace(lambda x, v: -function(x, v), X, V)
    points = [
        sorted(x for line in lines for x in line.x[: len(line.x) - line.closed].tolist()) for lines in (found, turned)
    ]
    assert points[0] == pytest.approx(points[1], abs=1e-9)


def test_two_circles_are_two_closed_lines_of_the_right_length():
    def rings(x, v):
        return ((x + 0.5) ** 2 + (v - 0.5) ** 2 - 0.09) * ((x - 0.5) ** 2 + (v - 0.5) ** 2 - 0.04)

    found = trace(rings, X, V)
    assert [line.closed for line in found] == [True, True]
    lengths = [float(np.hypot(np.diff(line.x), np.diff(line.v)).sum()) for line in found]
    assert lengths == pytest.approx([2 * np.pi * 0.3, 2 * np.pi * 0.2], rel=0.01)


def test_lines_through_a_saddle_follow_the_value_in_its_middle():
    # in the mesh about (0, 1/2) all four sides are crossed; xv = c is two branches, on one or the other diagonal
    for c in (1e-4, -1e-4):
        found = trace(lambda x, v, c=c: x * (v - 0.5) - c, np.linspace(-1, 1, 4), np.linspace(0, 1, 4))
        assert len(found) == 2
        for line in found:
            assert (np.sign(line.x * (line.v - 0.5)) == np.sign(c)).all()
            assert np.ptp(np.sign(line.x)) == 0


def test_a_function_of_one_sign_has_no_line():
    assert trace(lambda x, v: 1 + x**2 + v, X, V) == ()

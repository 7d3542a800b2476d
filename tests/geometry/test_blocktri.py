"""Block tridiagonal algebra against dense algebra of numpy."""

import numpy as np
import pytest

from scrieve.errors import BadGeometry
from scrieve.geometry.blocktri import Blocks, Factor, gather


def dense(blocks):
    k, b = blocks.diagonal.shape[:2]
    full = np.zeros((k * b, k * b))
    for i in range(k):
        here = slice(i * b, (i + 1) * b)
        full[here, here] = blocks.diagonal[i]
        if i + 1 < k:
            after = slice((i + 1) * b, (i + 2) * b)
            full[after, here], full[here, after] = blocks.below[i], blocks.below[i].T
    return full


def some(k, b, seed):
    """A well-behaved positive-definite matrix."""
    rng = np.random.default_rng(seed)
    lower, under = rng.normal(size=(k, b, b)), rng.normal(size=(k - 1, b, b)) * 0.4
    diagonal = lower @ lower.transpose(0, 2, 1) + 4 * b * np.eye(b)
    return Blocks(diagonal, under)


@pytest.mark.parametrize(("k", "b"), [(1, 3), (2, 1), (3, 2), (5, 4), (6, 70)])
def test_solution_determinant_and_inverse(k, b):
    blocks = some(k, b, seed=k)
    full, factor = dense(blocks), Factor.of(some(k, b, seed=k))
    rhs = np.random.default_rng(1).normal(size=(k * b, 3))
    assert factor.solve(rhs) == pytest.approx(np.linalg.solve(full, rhs), rel=1e-10)
    assert factor.solve(rhs[:, 0]) == pytest.approx(np.linalg.solve(full, rhs[:, 0]), rel=1e-10)
    assert factor.logdet == pytest.approx(np.linalg.slogdet(full)[1], rel=1e-12)
    inverse, part = np.linalg.inv(full), factor.inverse()
    for i in range(k):
        here, after = slice(i * b, (i + 1) * b), slice((i + 1) * b, (i + 2) * b)
        assert part.diagonal[i] == pytest.approx(inverse[here, here], abs=1e-12)
        if i + 1 < k:
            assert part.below[i] == pytest.approx(inverse[after, here], abs=1e-12)


def test_sum_product_and_trace():
    one, two = some(4, 3, seed=1), some(4, 3, seed=2)
    vector = np.random.default_rng(3).normal(size=12)
    assert dense(one + two * 2.5) == pytest.approx(dense(one) + 2.5 * dense(two), rel=1e-14)
    assert one.dot(vector) == pytest.approx(dense(one) @ vector, rel=1e-12)
    assert one.inner(two) == pytest.approx(np.trace(dense(one) @ dense(two)), rel=1e-12)


def test_rows_are_gathered():
    rng = np.random.default_rng(5)
    blocks, size, n, m = 4, 5, 40, 6
    window = rng.integers(0, blocks - 1, n)  # each row touches six of the ten unknowns of two neighbouring blocks
    index = window[:, None] * size + np.array([rng.permutation(2 * size)[:m] for _ in range(n)])
    value, weight = rng.normal(size=(n, m)), rng.uniform(0.1, 3, n)
    rows = np.zeros((n, blocks * size))
    np.put_along_axis(rows, index, value, axis=1)
    sum_of_all, part = Blocks.zeros(blocks, size), np.arange(n) < 15
    gather(index, value, weight, sum_of_all)
    assert dense(sum_of_all) == pytest.approx(rows.T @ (rows * weight[:, None]), abs=1e-12)
    gather(index[part], value[part], weight[part], sum_of_all, -1.0)  # and taken off again
    left = rows[~part]
    assert dense(sum_of_all) == pytest.approx(left.T @ (left * weight[~part, None]), abs=1e-12)


def test_a_matrix_that_is_not_positive_definite_is_refused():
    with pytest.raises(BadGeometry, match="do not settle a surface"):
        Factor.of(Blocks(np.stack([np.eye(2), -np.eye(2)]), np.zeros((1, 2, 2))))

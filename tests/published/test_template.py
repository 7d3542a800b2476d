"""A template laid on its reference marks, against general-purpose libraries.

Sources: the rotation that best aligns vectors (scipy.spatial.transform.Rotation.align_vectors); the orthogonal
Procrustes rotation by singular values (Kabsch 1976, by numpy.linalg.svd); parameter covariance of a weighted
least-squares fit (scipy.optimize.curve_fit); and how the placed points scatter over many draws.
"""

import numpy as np
import pytest
from scipy.optimize import curve_fit
from scipy.spatial.transform import Rotation

from scrieve.takeoff.template import fit_template


def marks(seed, count=4, noise=2.0, turned=False):
    rng = np.random.default_rng(seed)
    drawn = rng.uniform(-900, 900, (count, 2))
    angle, shift = rng.uniform(-3, 3), rng.uniform(-2000, 2000, 2)
    way = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    known = (drawn * [-1 if turned else 1, 1]) @ way.T + shift
    return drawn, known + rng.normal(0, noise, known.shape), rng.uniform(0.5, 3.0, count)


@pytest.mark.parametrize("seed", range(20))
def test_the_angle_is_that_of_aligned_vectors(seed):
    drawn, known, sigma = marks(seed)
    w = sigma**-2
    p, q = drawn - w @ drawn / w.sum(), known - w @ known / w.sum()
    flat = [np.column_stack([points, np.zeros(len(points))]) for points in (q, p)]
    upright = [0, 0, 1]  # of infinite weight: keeps the turn within the plane
    rotation, _ = Rotation.align_vectors(*(np.vstack([points, upright]) for points in flat), weights=[*w, np.inf])
    fit = fit_template(drawn, known, sigma=sigma, turned=False)
    assert np.cos(fit.angle_rad) == pytest.approx(rotation.as_matrix()[0, 0], abs=1e-9)
    assert np.sin(fit.angle_rad) == pytest.approx(rotation.as_matrix()[1, 0], abs=1e-9)


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("seed", range(10))
def test_the_best_orthogonal_matrix_by_singular_values_tells_the_face(seed, turned):
    drawn, known, sigma = marks(seed, turned=turned)
    w = sigma**-2
    p, q = drawn - w @ drawn / w.sum(), known - w @ known / w.sum()
    u, _, vt = np.linalg.svd((p * w[:, None]).T @ q)
    best = (u @ vt).T  # with a reflection, if that fits better
    fit = fit_template(drawn, known, sigma=sigma)
    assert fit.turned == (np.linalg.det(best) < 0) == turned
    at = np.array([[120.0, -340.0], [-700.0, 55.0]])
    expected = (at - w @ drawn / w.sum()) @ best.T + w @ known / w.sum()
    assert fit.place(at, 1.0)[0] == pytest.approx(expected, abs=1e-8)
    assert fit.residuals_mm == pytest.approx(p @ best.T - q, abs=1e-8)


@pytest.mark.parametrize("seed", range(8))
def test_covariance_is_that_of_a_general_fit(seed):
    drawn, known, sigma = marks(seed, count=5)
    fit = fit_template(drawn, known, sigma=sigma, turned=False)

    def model(_, angle, x, y):
        way = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
        return (drawn @ way.T + [x, y]).ravel()

    start = [fit.angle_rad, *fit.shift_mm]
    found, cover = curve_fit(
        model,
        np.arange(10),
        known.ravel(),
        start,
        sigma=np.repeat(sigma, 2),
        absolute_sigma=True,
        method="trf",
        x_scale=[1e-3, 1, 1],
    )
    assert found == pytest.approx(start, rel=1e-6)
    at = np.array([333.0, -512.0])
    c, s = np.cos(fit.angle_rad), np.sin(fit.angle_rad)
    rows = np.array([[-s * at[0] - c * at[1], 1, 0], [c * at[0] - s * at[1], 0, 1]])
    expected = rows @ cover @ rows.T + 1.7**2 * np.eye(2)
    # curve_fit takes its derivatives by differences, and the observed angle for the true one: a few parts in 10⁴
    assert fit.place(at, 1.7)[1][0] == pytest.approx(expected, abs=2e-3 * np.trace(expected))


def test_covariance_is_what_many_templates_scatter_by():
    rng = np.random.default_rng(3)
    drawn, known, sigma = marks(1, noise=0.0)
    at = np.array([800.0, -600.0])
    points = []
    for _ in range(3000):
        fit = fit_template(drawn, known + rng.normal(0, 1, known.shape) * sigma[:, None], sigma=sigma, turned=False)
        points.append(fit.place(at + rng.normal(0, 1.5, 2), 1.5)[0][0])
    said = fit_template(drawn, known, sigma=sigma, turned=False).place(at, 1.5)[1][0]
    assert np.cov(np.array(points).T) == pytest.approx(said, abs=0.1 * np.trace(said) / 2)  # sd of a variance: 2.6 %

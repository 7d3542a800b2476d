"""The smoothing surface's energies by quadrature, and its likelihood's gradient by differences."""

from math import factorial

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.interpolate import make_lsq_spline

from scrieve.fairing.smoother import Grid
from scrieve.geometry.blocktri import Blocks
from scrieve.geometry.bspline import Basis

from .exact_hulls import placed

HALF, PIECES = 1.0, 5


def grid(by_x=3, by_v=3):
    """A grid whose spline is of these degrees along and round."""
    return Grid(Basis(np.linspace(-HALF, HALF, 9), by_x), Basis(np.linspace(0, 1, PIECES + 1), by_v))


GRID = grid()
#: Of few frames, of many, and unlike: degrees along and round.
GRIDS = {degrees: grid(*degrees) for degrees in ((3, 3), (4, 4), (3, 4))}


def monomial(on, power_x, power_v):
    """Coefficients of the half-breadth xⁱvʲ on a grid, by scipy's spline fit: exact up to the spline's degree."""
    parts = []
    for basis, power in ((on.along, power_x), (on.around, power_v)):
        at = np.linspace(basis.breaks[0], basis.breaks[-1], 60)
        parts.append(make_lsq_spline(at, at**power, basis.knots, basis.degree).c)
    whole = np.zeros(on.blocks * on.block)
    shape = np.stack([np.outer(*parts), np.zeros((on.along.size, on.around.size))], axis=-1)
    whole[: shape.size] = shape.ravel()
    return whole


def soft_ends(power):  # docs/fairing.md, 'Prior': exp(-7 u⁴)
    return quad(lambda x: np.exp(-7 * (x / HALF) ** 4) ** power, -HALF, HALF, epsrel=1e-10)[0]


def easy_ends(power):  # docs/fairing.md, 'Prior': the last piece at either end counts 0.15
    return (PIECES - 2 + 2 * 0.15**power) / PIECES


@pytest.mark.parametrize("degrees", GRIDS)
@pytest.mark.parametrize("which", range(4))
def test_energy_of_a_monomial(degrees, which):
    """The one derivative of xⁱvʲ that is not nothing is i!·j!: its square, weighed along and round, by scipy's quad.

    The mixed derivatives share in both stiffnesses by their orders; where that leaves some of their size, it is what
    makes the energy one of a surface that departs by the girth all along.
    """
    on, (by_x, by_v) = GRIDS[degrees], degrees
    powers = ((by_x, 0), (0, by_v), (by_x - 1, 1), (1, by_v - 1))[which]
    share = np.array(powers) / degrees
    girth_squared = 1 / (1.5**2 * on.reach)
    scale = np.exp(share @ on.scales) * (girth_squared * 2 * HALF) ** (share.sum() - 1)
    expected = np.zeros(4)
    size = factorial(powers[0]) * factorial(powers[1])
    expected[which] = size**2 * scale * soft_ends(powers[0] / 3) * easy_ends(powers[1] / 3)
    c = monomial(on, *powers)
    tiny = 1e-9 * expected.max()
    assert on.bent(c) == pytest.approx(expected, rel=2e-3, abs=tiny)  # 2e-3: as many nodes a piece as the degree + 1
    for each, bent in zip(np.eye(4), on.bent(c), strict=True):
        energy = Blocks.zeros(on.blocks, on.block)
        on.stiffen(each, energy)
        assert c @ energy.dot(c) == pytest.approx(bent, rel=1e-9, abs=tiny)


def test_trace_of_an_energy_and_a_covariance():
    """As the product of the whole matrices, by the blocks that lie beside the diagonal."""
    rng, b = np.random.default_rng(2), GRID.block
    cover = Blocks(rng.normal(size=(GRID.blocks, b, b)), rng.normal(size=(GRID.blocks - 1, b, b)))
    for each, trace in zip(np.eye(4), GRID.traces(cover), strict=True):
        energy = Blocks.zeros(GRID.blocks, GRID.block)
        GRID.stiffen(each, energy)
        assert trace == pytest.approx(cover.inner(energy), rel=1e-9)


@pytest.mark.parametrize("degrees", GRIDS)
@pytest.mark.parametrize("powers", [(2, 0), (1, 1), (0, 2)])
def test_what_costs_nothing(powers, degrees):
    """Parabolas, as of any smoothness of third order or fourth, cost nothing, nor does a twist xv."""
    on = GRIDS[degrees]
    c = monomial(on, *powers)
    assert on.bent(c).max() < 1e-12 * np.max(np.abs(c)) ** 2


def test_slope_of_the_likelihood():
    """The gradient of the evidence is what central differences of it give."""
    problem, _ = placed()
    at = np.array([-6.0, -4.0, 0.2])
    steps = 1e-3 * np.eye(3)
    differences = [(problem.evidence(at + d)[0] - problem.evidence(at - d)[0]) / 2e-3 for d in steps]
    assert problem.evidence(at)[1] == pytest.approx(differences, rel=1e-4)

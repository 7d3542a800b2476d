"""The smoothing surface's energies by quadrature, and its likelihood's gradient by differences."""

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.interpolate import make_lsq_spline

from scrieve.fairing.smoother import Grid
from scrieve.geometry.blocktri import Blocks
from scrieve.geometry.bspline import Basis

from .exact_hulls import placed

HALF, PIECES = 1.0, 5
GRID = Grid(Basis(np.linspace(-HALF, HALF, 9)), Basis(np.linspace(0, 1, PIECES + 1)))


def monomial(power_x, power_v):
    """Coefficients of the half-breadth xⁱvʲ on the grid, by scipy's spline fit: exact for cubics."""
    parts = []
    for basis, power in ((GRID.along, power_x), (GRID.around, power_v)):
        at = np.linspace(basis.breaks[0], basis.breaks[-1], 60)
        parts.append(make_lsq_spline(at, at**power, basis.knots, 3).c)
    whole = np.zeros(GRID.blocks * GRID.block)
    shape = np.stack([np.outer(*parts), np.zeros((GRID.along.size, GRID.around.size))], axis=-1)
    whole[: shape.size] = shape.ravel()
    return whole


def soft_ends(power):  # docs/fairing.md, 'Prior': exp(-7 u⁴)
    return quad(lambda x: np.exp(-7 * (x / HALF) ** 4) ** power, -HALF, HALF, epsrel=1e-10)[0]


def easy_ends(power):  # docs/fairing.md, 'Prior': the last piece at either end counts 0.15
    return (PIECES - 2 + 2 * 0.15**power) / PIECES


@pytest.mark.parametrize(
    ("powers", "which", "derivative"), [((3, 0), 0, 6.0), ((0, 3), 1, 6.0), ((2, 1), 2, 2.0), ((1, 2), 3, 2.0)]
)
def test_energy_of_a_monomial(powers, which, derivative):
    """The one derivative of xⁱvʲ that is not nothing is i!·j!: its square, weighed along and round, by scipy's quad."""
    along, around = np.array(powers) / 3
    scale = np.exp(np.dot([along, around], GRID.scales))
    expected = np.zeros(4)
    expected[which] = derivative**2 * scale * soft_ends(along) * easy_ends(around)
    c = monomial(*powers)
    tiny = 1e-9 * expected.max()
    assert GRID.bent(c) == pytest.approx(expected, rel=2e-3, abs=tiny)  # 2e-3: four nodes a piece
    for each, bent in zip(np.eye(4), GRID.bent(c), strict=True):
        energy = Blocks.zeros(GRID.blocks, GRID.block)
        GRID.stiffen(each, energy)
        assert c @ energy.dot(c) == pytest.approx(bent, rel=1e-9, abs=tiny)


def test_trace_of_an_energy_and_a_covariance():
    """As the product of the whole matrices, by the blocks that lie beside the diagonal."""
    rng, b = np.random.default_rng(2), GRID.block
    cover = Blocks(rng.normal(size=(GRID.blocks, b, b)), rng.normal(size=(GRID.blocks - 1, b, b)))
    for each, trace in zip(np.eye(4), GRID.traces(cover), strict=True):
        energy = Blocks.zeros(GRID.blocks, GRID.block)
        GRID.stiffen(each, energy)
        assert trace == pytest.approx(cover.inner(energy), rel=1e-9)


@pytest.mark.parametrize("powers", [(2, 0), (1, 1), (0, 2)])
def test_what_costs_nothing(powers):
    """Parabolas, as of any smoothness of third order, cost nothing, nor does a twist xv."""
    c = monomial(*powers)
    assert GRID.bent(c).max() < 1e-12 * np.max(np.abs(c)) ** 2


def test_slope_of_the_likelihood():
    """The gradient of the evidence is what central differences of it give."""
    problem, _ = placed()
    at = np.array([-6.0, -4.0, 0.2])
    steps = 1e-3 * np.eye(3)
    differences = [(problem.evidence(at + d)[0] - problem.evidence(at - d)[0]) / 2e-3 for d in steps]
    assert problem.evidence(at)[1] == pytest.approx(differences, rel=1e-4)

"""The smoothing surface: a tensor spline, how stiff it is, how wrong the marks are, and the ± that follows.

Half-breadth and height are two functions of the station and of the share of the girth. Their prior is a smooth field:
third derivatives along the length and round the girth are small, how small is learnt from the marks by the marginal
likelihood, together with the measuring error. The posterior gives the fair surface and its ±.
The equations and their sources are told in docs/fairing.md.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from scrieve.geometry.blocktri import Blocks, Factor, gather
from scrieve.geometry.bspline import Basis

Array = NDArray[np.float64]
Index = NDArray[np.intp]

#: Unknowns below which a block costs more to fetch than to reckon with.
_SMALL = 24
#: How far the learnt logarithms of stiffness and of error may go.
_BOUNDS = [(-14.0, 12.0), (-14.0, 12.0), (-7.0, 4.0)]
#: Where a surface is learnt to be less stiff than usual by e to this power, another beginning is tried, the error
#: greater by e to the other.
_SLACK, _WIDE = 3.0, 2.5
#: One standard deviation, before the marks are seen, of the log of (true error / stated error), and of each stiffness.
_TRUST = 0.3
_STIFFNESS_TRUST = 1.5
#: The hull's ends are less stiff than its middle by e to this power, and how suddenly.
_ENDS, _ENDS_POWER = 7.0, 4.0
#: Half-breadth and height of a line along the hull: how much stiffer (by e to this power) each usually is than a hull
#: is along, and how much less stiff at its ends. A sheer seen from the side turns far less than one seen from above.
_LINE_USUAL, _LINE_ENDS = (-0.5, 2.5), (1.5, 0.0)
#: The last piece at heel and at head is so much less stiff round the girth than the others.
_LAST_PIECE = 0.15
#: What the stiffness along and round the girth usually is, by the order of the derivative that is kept small.
_USUAL_ALONG, _USUAL_ROUND = {3: 2.0, 4: -2.5}, {0: 0.0, 3: 3.0, 4: 1.0}
#: The weak prior holds the surface to so many girths of its starting shape.
_REACH = 1.5


@dataclass(frozen=True, eq=False)
class Grid:
    """Where the spline's pieces meet, along the length and round the girth, and the energies that keep it fair.

    `usual` holds the logarithms of stiffness that a hull like this usually has; `reach` is the precision [1/mm²] of the
    weak prior that keeps the surface near its starting shape; `unsure` how far it is in doubt that the middle is the
    stiffer: by so much, in parts of that amidships, is one over the stiffness greater everywhere along.
    """

    along: Basis
    around: Basis
    usual: tuple[float, float] = (0.0, 0.0)
    reach: float = 1e-7
    unsure: float = 0.0

    @classmethod
    def of_size(cls, along: Basis, around: Basis, girth: float) -> Grid:
        """Grid of a hull or line whose usual girth is given [mm]: its usual stiffness follows from that.

        Hulls are much alike when each is measured by its own length and girth. Turned into the scale of the energies,
        where a piece more makes each energy smaller by its fifth power, that says how stiff a hull of so many pieces
        usually is; the constants are round figures from forms of all kinds, and worth a factor of e^1.5 either way.
        """
        pieces_u, pieces_v = (np.log(len(np.unique(basis.breaks)) - 1.0) for basis in (along, around))
        size = 2 * np.log(girth)
        usual_u = _USUAL_ALONG[along.degree] + (2 * along.degree - 1) * pieces_u - pieces_v - size
        usual_v = _USUAL_ROUND[around.degree] + (2 * around.degree - 1) * pieces_v - pieces_u - size
        usual = (usual_u, usual_v) if around.degree else (usual_u + _LINE_USUAL[0], usual_u + _LINE_USUAL[1])
        return cls(along, around, usual=usual, reach=1 / (_REACH * girth) ** 2)

    @property
    def is_line(self) -> bool:
        """Whether it holds a line along the hull, with nothing round the girth."""
        return self.around.degree == 0

    @property
    def step(self) -> int:
        """Places along that one block holds: at least the spline's degree, more on a line, where blocks are small."""
        return max(self.along.degree, _SMALL // (2 * self.around.size))

    @property
    def block(self) -> int:
        """Unknowns of one block: `step` places along, both coordinates."""
        return self.step * self.around.size * 2

    @cached_property
    def blocks(self) -> int:
        """Number of blocks."""
        return -(-self.along.size // self.step)

    def rows(self, x: ArrayLike, v: ArrayLike, direction: Array, by_x: int = 0, by_v: int = 0) -> tuple[Index, Array]:
        """Sparse rows that give direction · ∂ⁿS at each (x, v): indices and values, each (n, m)."""
        first_x, value_x = self.along.row(x, by_x)
        first_v, value_v = self.around.row(v, by_v)
        i = first_x[:, None] + np.arange(value_x.shape[1])
        j = first_v[:, None] + np.arange(value_v.shape[1])
        place = (i[:, :, None] * self.around.size + j[:, None, :])[..., None] * 2 + np.arange(2)
        value = (value_x[:, :, None] * value_v[:, None, :])[..., None] * direction[:, None, None, :]
        n = len(first_x)
        return place.reshape(n, -1), value.reshape(n, -1)

    def stiffen(self, weights: Array, onto: Blocks) -> None:
        """Add Σ weight · energy, of each of the derivatives that are kept small; of a line, of each coordinate.

        Those along and round are scaled to a mean diagonal of one, and those between them as they follow from these.
        An energy is that along times that round for each pair of places, and says nothing of one coordinate against
        the other.
        """
        if self.is_line:
            for weight, energy in zip(weights, self._line_energies, strict=True):
                onto.diagonal[:] += weight * energy.diagonal
                onto.below[:] += weight * energy.below
            return
        for each, along in zip((onto.diagonal, onto.below), self._energy_along, strict=True):
            places = self._places(each)
            k, step, wide = places.shape[2:5]
            added = ((along * weights) @ self._energy_around).reshape(k, step, step, wide, wide).swapaxes(2, 3)
            for c in range(2):
                places[c, c] += added

    def traces(self, cover: Blocks) -> Array:
        """Trace of each energy times a covariance: what is left free of it."""
        if self.is_line:
            return np.array([cover.inner(energy) for energy in self._line_energies])
        found = np.zeros(len(self._bends))
        for each, along, times in zip((cover.diagonal, cover.below), self._energy_along, (1, 2), strict=True):
            places = self._places(each)
            own = (places[0, 0] + places[1, 1]).swapaxes(2, 3).reshape(len(along), self.around.size**2)
            found += times * np.einsum("pe,pe->e", own @ self._energy_around.T, along)
        return found

    @cached_property
    def _line_energies(self) -> tuple[Blocks, ...]:
        """The energies of a line, one of each coordinate: its few blocks are sooner added whole than put together."""
        energies = tuple(Blocks.zeros(self.blocks, self.block) for _ in range(2))
        for c, energy in enumerate(energies):
            for each, along in zip((energy.diagonal, energy.below), self._energy_along, strict=True):
                places = self._places(each)[c, c]
                places += (along[:, c] * self._energy_around[c]).reshape(places.shape)
        return energies

    def _places(self, blocks: Array) -> Array:
        """View (coordinate, coordinate, k, place along, place round, place along, place round) of blocks (k, b, b)."""
        places = (self.step, self.around.size, 2)
        return blocks.reshape(len(blocks), *places, *places).transpose(3, 6, 0, 1, 2, 4, 5)

    @cached_property
    def _energy_along(self) -> tuple[Array, Array]:
        """Each energy along (pairs of places, energies): in each block, and from each to the one before."""
        step, count, size = self.step, self.blocks, self.along.size
        padded = np.zeros((count * step, count * step, len(self._bends)))
        padded[:size, :size] = np.stack([along for along, _, _ in self._bends], axis=2)
        cut = padded.reshape(count, step, count, step, -1).swapaxes(1, 2)
        each = np.arange(count)
        diagonal, below = cut[each, each], cut[each[1:], each[:-1]]
        return diagonal.reshape(-1, padded.shape[2]), below.reshape(-1, padded.shape[2])

    @cached_property
    def _energy_around(self) -> Array:
        """Each energy round (energies, pairs of places)."""
        return np.array([around.ravel() for _, around, _ in self._bends])

    @cached_property
    def modes(self) -> tuple[Array, Array]:
        """Of a line: eigenvalues (2, n) and vectors (2, n, n) of the energies of half-breadth and of height."""
        sizes, ways = np.linalg.eigh(np.array([along * around for along, around, _ in self._bends]))
        sizes[:, :3] = 0.0  # a parabola has none
        return sizes, ways

    @property
    def shares(self) -> Array:
        """How the two stiffnesses share in what each energy weighs (energies, 2); on a line each has its own."""
        return np.eye(2) if self.is_line else np.array(self._orders) / (self.along.degree, self.around.degree)

    def weights(self, stiffness: Array) -> Array:
        """What each energy weighs at the logarithms of stiffness: along and round, or of the two coordinates."""
        return np.asarray(np.exp(self.shares @ stiffness[:2]))

    def bent(self, c: Array) -> Array:
        """Each energy of a spline, cᵀEc."""
        shape = c[: self.along.size * self.around.size * 2].reshape(self.along.size, self.around.size, 2)
        turned = shape.transpose(2, 0, 1)
        each = (np.einsum("nij,nij->n", along @ turned @ around, turned) @ of for along, around, of in self._bends)
        return np.array(list(each))

    @property
    def _orders(self) -> tuple[tuple[int, int], ...]:
        """Orders of the derivatives, along and round, that are kept small: of the spline's degree, and mixed ones."""
        by_x, by_v = self.along.degree, self.around.degree
        return (by_x, 0), (0, by_v), (by_x - 1, 1), (1, by_v - 1)

    @property
    def _terms(self) -> tuple[tuple[int, int, float, Array], ...]:
        """Orders of each derivative along and round, how much softer its ends are, and of which coordinates it is."""
        if self.is_line:
            return tuple((3, 0, ends, of) for ends, of in zip(_LINE_ENDS, np.eye(2), strict=True))
        return tuple((by_x, by_v, _ENDS, np.ones(2)) for by_x, by_v in self._orders)

    @cached_property
    def _bends(self) -> tuple[tuple[Array, Array, Array], ...]:
        # where the orders differ, the size of a mixed term follows in part from the girth: a surface that departs by as
        # much as that, all along, has an energy of one
        size = _REACH**2 * self.reach / np.ptp(self.along.breaks)
        own = 0.0 if self.is_line else (1 - self.shares.sum(axis=1)) * np.log(size)
        scales = np.exp(self.shares @ self.scales + own)
        return tuple(
            (scale * self._along(by_x, ends), self._around(by_v), of)
            for (by_x, by_v, ends, of), scale in zip(self._terms, scales, strict=True)
        )

    def _along(self, order: int, ends: float) -> Array:
        """Energy (along, along) of a derivative along, softer towards the ends by its share in the stiffness there."""
        return self.along.energy(order, lambda x: self._stiff(x, ends) ** (order / 3))

    def _around(self, order: int) -> Array:
        return self.around.energy(order, lambda v: self._easy(v) ** (order / 3))

    def _easy(self, v: Array) -> Array:
        """How stiff the hull is round its girth, as a share of the middle: the last piece at either end is less so.

        Without that the third derivative is drawn to nothing at heel and head, as it is in no hull.
        """
        breaks = np.unique(self.around.breaks)
        return np.asarray(np.where((v < breaks[1]) | (v > breaks[-2]), _LAST_PIECE, 1.0))

    def _stiff(self, x: Array, ends: float) -> Array:
        """How stiff the hull is along its length, as a share of amidships: it turns more quickly towards its ends."""
        low, high = self.along.breaks[[0, -1]]
        u = np.abs(2 * (x - low) / (high - low) - 1)
        return np.asarray(1 / (np.exp(ends * u**_ENDS_POWER) + self.unsure))

    @cached_property
    def scales(self) -> Array:
        """Logarithms (2,) of what the energies along and round, or of the two coordinates, are multiplied by."""
        means = [
            np.mean(np.diagonal(self._along(by_x, ends))) * np.mean(np.diagonal(self._around(by_v)))
            for by_x, by_v, ends, _ in self._terms[:2]
        ]
        return np.asarray(-np.log(means))

    def stiffness_of(self, other: Grid, stiffness: Array) -> Array:
        """The same stiffness (and error) as `stiffness` on another grid, told in the scale of this one."""
        return np.asarray(stiffness + np.append(other.scales - self.scales, 0.0))


@dataclass(frozen=True, eq=False)
class Rows:
    """Linear observations of the spline: sparse row · c = target, each with a standard deviation [mm]."""

    index: Index
    value: Array
    target: Array
    sd: Array

    @classmethod
    def joined(cls, *parts: Rows) -> Rows:
        """Rows of several kinds, one after the other."""
        return cls(*(np.concatenate([getattr(part, name) for part in parts]) for name in cls.__dataclass_fields__))

    def blocks(self, grid: Grid) -> Blocks:
        """Σ row rowᵀ / sd²."""
        out = Blocks.zeros(grid.blocks, grid.block)
        gather(self.index, self.value, self.sd**-2.0, out)
        return out

    def rhs(self, grid: Grid) -> Array:
        """Σ row target / sd²."""
        weighted = self.value * (self.target / self.sd**2)[:, None]
        return np.bincount(self.index.ravel(), weighted.ravel(), grid.blocks * grid.block).astype(np.float64)

    def of(self, c: Array) -> Array:
        """row · c."""
        return np.asarray(np.einsum("nm,nm->n", self.value, c[self.index]))

    def take(self, keep: NDArray[np.bool_]) -> Rows:
        """Some of the rows."""
        return Rows(self.index[keep], self.value[keep], self.target[keep], self.sd[keep])


@dataclass(frozen=True, eq=False)
class Normal:
    """Normal equations that rows give: Σ row rowᵀ / sd² and Σ row target / sd²."""

    left: Blocks
    right: Array

    @classmethod
    def of(cls, grid: Grid, *parts: Rows) -> Normal:
        """Of rows of any kinds together, or of none."""
        none = cls(Blocks.zeros(grid.blocks, grid.block), np.zeros(grid.blocks * grid.block))
        return none._with(grid, parts, 1.0)

    def less(self, grid: Grid, rows: Rows) -> Normal:
        """Without rows that are in it."""
        return Normal(self.left.copy(), self.right.copy())._with(grid, [rows], -1.0) if len(rows.sd) else self

    def _with(self, grid: Grid, parts: Sequence[Rows], sign: float) -> Normal:
        for rows in parts:
            gather(rows.index, rows.value, rows.sd**-2.0, self.left, sign)
            self.right[:] += sign * rows.rhs(grid)
        return self


@dataclass(frozen=True, eq=False)
class Fit:
    """A fitted spline: `c` its coefficients, `factor` that of the precision they are known with.

    `stiffness` holds the logarithms of the stiffness along and round, on a line of that of half-breadth and of height,
    and of (true error / stated error).
    """

    grid: Grid
    c: Array
    factor: Factor
    stiffness: Array
    evidence: float = 0.0

    @cached_property
    def covariance(self) -> Blocks:
        """Covariance of the coefficients, as far as places near one another need it."""
        return self.factor.inverse()

    @property
    def error_scale(self) -> float:
        """True measuring error over the stated one, as the marks tell it."""
        return float(np.exp(self.stiffness[2]))

    def value(self, x: ArrayLike, v: ArrayLike, by_x: int = 0, by_v: int = 0) -> Array:
        """Half-breadth and height, or their derivatives, at each (x, v): (n, 2)."""
        n = np.broadcast(np.atleast_1d(x), np.atleast_1d(v)).shape[0]
        x, v = np.broadcast_to(x, n), np.broadcast_to(v, n)
        first_x, value_x = self.grid.along.row(x, by_x)
        first_v, value_v = self.grid.around.row(v, by_v)
        c = self.c[: self.grid.along.size * self.grid.around.size * 2].reshape(self.grid.along.size, -1, 2)
        i = first_x[:, None] + np.arange(value_x.shape[1])
        j = first_v[:, None] + np.arange(value_v.shape[1])
        return np.asarray(np.einsum("ni,nj,nijc->nc", value_x, value_v, c[i[:, :, None], j[:, None, :]]))

    def sections(self, x: ArrayLike, by_x: int = 0) -> Array:
        """Coefficients round the girth of the section at each station, or their derivatives by x: (n, around, 2)."""
        c = self.c[: self.grid.along.size * self.grid.around.size * 2].reshape(self.grid.along.size, -1, 2)
        return np.asarray(np.tensordot(self.grid.along.dense(x, by_x), c, axes=1))

    def point_covariance(self, x: ArrayLike, v: ArrayLike) -> Array:
        """Covariance (n, 2, 2) of half-breadth and height at each (x, v) [mm²].

        Each station's section is taken out of the covariance first; its points then cost next to nothing.
        """
        at, share = np.broadcast_arrays(np.atleast_1d(np.asarray(x, dtype=float)), np.asarray(v, dtype=float))
        stations, which = np.unique(at, return_inverse=True)
        first_v, value_v = self.grid.around.row(share)
        wide = 2 * self.grid.around.size
        place = 2 * first_v[:, None] + np.arange(2 * value_v.shape[1])
        square = place[:, :, None] * wide + place[:, None, :]
        out = np.empty((len(at), 2, 2))
        for begin in range(0, len(stations), 64):  # a few sections at a time: the tables stay small
            here = np.flatnonzero((which >= begin) & (which < begin + 64))
            section = self._section_covariance(stations[begin : begin + 64])
            near = section.ravel()[square[here] + ((which[here] - begin) * wide**2)[:, None, None]]
            half = np.einsum("nj,njas->nas", value_v[here], near.reshape(len(here), -1, 2, place.shape[1]))
            out[here] = np.einsum("nk,nakb->nab", value_v[here], half.reshape(len(here), 2, -1, 2))
        return out

    def _section_covariance(self, stations: Array) -> Array:
        """Covariance (n, around·2, around·2) of the coefficients of the section at each station."""
        step, wide = self.grid.step, 2 * self.grid.around.size
        first, value = self.grid.along.row(stations)
        block, begin = np.divmod(first, step)
        weight = np.zeros((len(stations), 2 * step))
        np.put_along_axis(weight, begin[:, None] + np.arange(value.shape[1]), value, axis=1)
        out = np.zeros((len(stations), wide, wide))
        cover = self.covariance
        for k in np.unique(block):
            here = np.flatnonzero(block == k)
            low, high = weight[here, :step], weight[here, step:]
            out[here] = _both_sides(low, cover.diagonal[k], low)
            over = here[high.any(axis=1)]
            if over.size:
                low, high = weight[over, :step], weight[over, step:]
                link = _both_sides(high, cover.below[k], low)
                out[over] += link + link.transpose(0, 2, 1) + _both_sides(high, cover.diagonal[k + 1], high)
        return out

    def row_covariance(self, index: Index, value: Array) -> Array:
        """Covariance of groups of rows that share one place: index (n, k, m) and value (n, k, m) to (n, k, k)."""
        size = self.grid.block
        n, k, _ = index.shape
        low = index[:, 0].min(axis=1) // size
        out = np.empty((n, k, k))
        for block in np.unique(low):
            here = np.flatnonzero(low == block)
            rows = np.zeros((len(here), k, 2 * size))
            np.put_along_axis(rows, index[here] - block * size, value[here], axis=2)
            out[here] = self._spread(int(block), rows[..., :size], rows[..., size:])
        return out

    def _spread(self, block: int, here: Array, after: Array) -> Array:
        """Covariance (n, k, k) of rows (n, k, size) over the unknowns of `block` and of the one after it."""
        cover = self.covariance
        flat = here.reshape(-1, here.shape[2])
        if block + 1 >= self.grid.blocks:
            return np.asarray(np.einsum("nkj,nlj->nkl", (flat @ cover.diagonal[block]).reshape(here.shape), here))
        flat_after = after.reshape(flat.shape)
        left = flat @ cover.diagonal[block] + flat_after @ cover.below[block]
        right = flat @ cover.below[block].T + flat_after @ cover.diagonal[block + 1]
        inner = np.einsum("nkj,nlj->nkl", left.reshape(here.shape), here)
        return np.asarray(inner + np.einsum("nkj,nlj->nkl", right.reshape(here.shape), after))


def _both_sides(left: Array, block: Array, right: Array) -> Array:
    """Σ leftₐ · blockₐ꜀ · right꜀ over the places along of one block: (n, a), (a·p, c·p), (n, c) to (n, p, p)."""
    step = left.shape[1]
    wide = len(block) // step
    half = (left @ block.reshape(step, -1)).reshape(len(left) * wide, step, wide)
    return np.asarray((np.repeat(right, wide, axis=0)[:, None] @ half).reshape(len(left), wide, wide))


def _state(precision: Blocks, right: Array) -> tuple[Array, float, Blocks]:
    """Mean, log-determinant and covariance of a precision, which is written over."""
    factor = Factor.of(precision, consume=True)
    return factor.solve(right), factor.logdet, factor.inverse(consume=True)


@dataclass(frozen=True, eq=False)
class Problem:
    """What is known: the observations `data` and their equations (error scaled as learnt), anchors, a starting shape.

    The anchors `ties` are taken with their error as given.
    """

    grid: Grid
    data: Rows
    known: Normal
    ties: Normal
    start: Array

    @classmethod
    def of(cls, grid: Grid, data: Rows, anchors: Sequence[Rows], start: Array) -> Problem:
        """From rows alone."""
        return cls(grid, data, Normal.of(grid, data), Normal.of(grid, *anchors), start)

    @cached_property
    def _pull(self) -> Array:
        """Right-hand side of what is known before the observations."""
        return self.ties.right + self.grid.reach * self.start

    @cached_property
    def _desks(self) -> tuple[Blocks, Blocks]:
        """Memory that every evaluation writes over, before and after the observations."""
        like = self.known.left
        before, after = (Blocks(np.empty_like(like.diagonal), np.empty_like(like.below)) for _ in range(2))
        return before, after

    def solve(self, stiffness: Array) -> Fit:
        """Posterior for given logarithms of stiffness along, stiffness round and error scale."""
        precision = float(np.exp(-2 * stiffness[2]))
        whole = Blocks.combined((1.0, precision), (self.ties.left, self.known.left), ridge=self.grid.reach)
        self.grid.stiffen(self.grid.weights(stiffness), whole)
        factor = Factor.of(whole, consume=True)
        return Fit(self.grid, factor.solve(self._pull + precision * self.known.right), factor, stiffness)

    def evidence(self, stiffness: Array) -> tuple[float, Array]:
        """−2 log marginal likelihood of the observations (less a constant), and its gradient."""
        grid, data, ties, pull = self.grid, self.known.left, self.ties.left, self._pull
        weights, precision = grid.weights(stiffness), float(np.exp(-2 * stiffness[2]))
        before, after = self._desks
        Blocks.combined((1.0,), (ties,), before, grid.reach)
        grid.stiffen(weights, before)
        Blocks.combined((1.0, precision), (before, data), after)
        shape0, logdet0, bent0, freed0 = self._unseen_in_modes(weights) if self._in_modes else self._unseen(before)
        c1, logdet1, v1 = _state(after, pull + precision * self.known.right)
        miss = (self.data.of(c1) - self.data.target) / self.data.sd
        n = len(miss)
        bent1, freed1 = grid.bent(c1), grid.traces(v1)
        # both quadratic forms less the same constants of the anchors and of the reach
        shape1 = float(c1 @ ties.dot(c1) + grid.reach * c1 @ c1 - 2 * pull @ c1 + weights @ bent1)
        value = n * 2 * stiffness[2] + precision * float(miss @ miss) + shape1 - shape0 + logdet1 - logdet0
        slope = grid.shares.T @ (weights * (bent1 - bent0 + freed1 - freed0))
        gradient = np.append(slope, 2 * n - 2 * precision * (float(miss @ miss) + v1.inner(data)))
        away = np.array([*(stiffness[:2] - grid.usual), stiffness[2]])
        # few frames say little of the stiffness along, however many marks repeat it
        few = 1.0 if grid.is_line else min(1.0, max(len(grid.along.breaks) - 4, 0.1) / 8)
        trust = np.array([_STIFFNESS_TRUST * few**0.5, _STIFFNESS_TRUST, _TRUST])
        return value + float(np.sum((away / trust) ** 2)), gradient + 2 * away / trust**2

    def _unseen(self, precision: Blocks) -> tuple[float, float, Array, Array]:
        """The spline before any mark is seen: its quadratic form, log-determinant, and energies: bent, and freed.

        `precision` is written over.
        """
        c, logdet, cover = _state(precision, self._pull)
        return float(-self._pull @ c), logdet, self.grid.bent(c), self.grid.traces(cover)

    @cached_property
    def _in_modes(self) -> bool:
        """Whether the energies have nothing to do with each other, nor with any anchor: those of a line."""
        return self.grid.is_line and not self.ties.left.diagonal.any()

    @cached_property
    def _modes(self) -> tuple[Array, Array, Array]:
        """Energies (2, n) of a line's modes, what pulls at each, and at what only fills the last block."""
        size, ways = self.grid.modes
        pulled = self._pull[: size.size].reshape(-1, 2)
        return size, np.einsum("cij,ic->cj", ways, pulled), self._pull[size.size :]

    def _unseen_in_modes(self, weights: Array) -> tuple[float, float, Array, Array]:
        """The same of a line: a sum over the modes of its energies."""
        grid, (size, way, beyond) = self.grid, self._modes
        stiff = weights[:, None] * size + grid.reach
        shape = -float(np.sum(way**2 / stiff)) - float(beyond @ beyond) / grid.reach
        logdet = float(np.log(stiff).sum()) + len(beyond) * float(np.log(grid.reach))
        return shape, logdet, np.sum(size * (way / stiff) ** 2, axis=1), np.sum(size / stiff, axis=1)

    def learn(self, start: Array, *, to: float | None = None, tick: Callable[[], None] | None = None) -> Fit:
        """Most likely stiffness and error, from `start`, and the posterior there.

        It ends where less than `to` is to be gained (of the log likelihood): the marks themselves do not settle the
        place more closely than 1. Unless given it is 0.2, and 0.01 on a line: few marks, whose ends hang on it.
        """
        gain = to if to is not None else 0.01 if self.grid.is_line else 0.2

        def target(stiffness: Array) -> tuple[float, Array]:
            if tick is not None:
                tick()
            return self.evidence(stiffness)

        # what the curvature of the valley usually is: enough for a first step of the right size
        n = max(len(self.data.sd), 1)
        curvature = np.array([0.1, 0.1, 2.5]) * n
        place, value = _descend(target, np.array(start, dtype=float), curvature, 2 * gain)
        if not self.grid.is_line and np.any(place[:2] < np.subtract(self.grid.usual, _SLACK)):
            # a surface that runs through marks that are wrong is a valley of its own, and seldom the deeper one
            other, there = _descend(target, np.maximum(place, [*self.grid.usual, _WIDE]), curvature, 2 * gain)
            if there < value:
                place, value = other, there
        return replace(self.solve(place), evidence=value)


def _descend(
    target: Callable[[Array], tuple[float, Array]], place: Array, curvature: Array, gain: float
) -> tuple[Array, float]:
    """Least value of a smooth function of a few logarithms, by BFGS with no step longer than a factor of e².

    A longer step may leap over the valley that holds nearly exact marks, into a stiff and wrong one. It ends where the
    slope promises less than `gain`.
    """
    low, high = np.array(_BOUNDS).T
    place = np.clip(place, low, high)
    value, slope = target(place)
    inverse = np.diag(1 / curvature)
    for _ in range(40):
        free = ~(((place <= low) & (slope > 0)) | ((place >= high) & (slope < 0)))
        step = np.where(free, -(inverse @ np.where(free, slope, 0.0)), 0.0)
        if step @ slope >= 0:
            inverse = np.diag(1 / curvature)
            step = np.where(free, -inverse @ slope, 0.0)
        if -(step @ slope) < gain:
            break
        step *= min(1.0, 2.0 / float(np.abs(step).max()))
        for _ in range(12):
            trial = np.clip(place + step, low, high)
            new, new_slope = target(trial)
            if new <= value + 1e-4 * float((trial - place) @ slope):
                break
            step = step / 4
        else:
            break
        moved, turned = trial - place, new_slope - slope
        place, value, slope = trial, new, new_slope
        if (curve := float(moved @ turned)) > 1e-12:
            left = np.eye(len(place)) - np.outer(moved, turned) / curve
            inverse = left @ inverse @ left.T + np.outer(moved, moved) / curve
    return place, value

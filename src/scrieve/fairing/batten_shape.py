"""The shape of a batten: nodes along it, turning angles between them, its bending energy and how that changes.

Everything here is in units of the batten's own length, points are complex numbers (first axis + i second axis), and
the energy is ½∫κ² ds + ½Σ w d²: the weight w takes in the smoothing. `batten.py` speaks millimetres.
"""

from __future__ import annotations

from contextlib import AbstractContextManager
from dataclasses import dataclass
from functools import cache, cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import lapack
from threadpoolctl import ThreadpoolController

from scrieve.errors import BadGeometry

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]
Flags = NDArray[np.bool_]
Index = NDArray[np.intp]

#: Stiffness of a pin over the stiffest node: it carries the mark to ten digits of a step.
PIN = 1e10
#: A mark whose foot strays this share of a segment from its node calls for new nodes.
_STRAY = 0.02
#: Marks whose feet are nearer than this share of the usual segment share a node.
TOGETHER = 0.01


@cache
def _threads() -> ThreadpoolController:
    return ThreadpoolController()


def one_thread() -> AbstractContextManager[object]:
    """Matrices here are small: more threads would only wait for each other."""
    limit: AbstractContextManager[object] = _threads().limit(limits=1, user_api="blas")
    return limit


@dataclass(frozen=True, eq=False)
class Layout:
    """Which node belongs to which mark, and which unknown to which node.

    Every node has one unknown, its move square to the line; a knuckle has a second, its move along the line.
    `posts` are the nodes that stand at feet of marks, in order along the batten; between them nodes are even.
    """

    count: int
    posts: Index
    mark_node: Index
    knuckles: Index
    directed: tuple[bool, bool]

    @cached_property
    def charge(self) -> Array:
        """One where curvature costs energy: all nodes but knuckles and free ends."""
        charge = np.ones(self.count)
        charge[0], charge[-1] = self.directed
        charge[self.knuckles] = 0.0
        return charge

    @cached_property
    def unknown(self) -> Index:
        """Number of each node's unknown."""
        extra = np.zeros(self.count, dtype=np.intp)
        extra[self.knuckles + 1] = 1
        return np.asarray(np.arange(self.count) + np.cumsum(extra))

    @property
    def size(self) -> int:
        """Number of unknowns."""
        return self.count + len(self.knuckles)

    @cached_property
    def seen(self) -> Index:
        """Unknown of each observation: the marks square to the line, then the knuckles along it."""
        return np.asarray(np.r_[self.unknown[self.mark_node], self.unknown[self.knuckles] + 1])

    @property
    def width(self) -> int:
        """Bands under the diagonal."""
        return 3 if len(self.knuckles) else 2

    @cached_property
    def _slots(self) -> tuple[list[Index], list[Index]]:
        """Unknowns of the bend at each node (before, own, after, knuckle beside) and of each segment."""
        own = self.unknown
        bend = [np.r_[own[0], own[:-1]], own, np.r_[own[1:], own[-1]]]
        segment = [own[:-1], own[1:]]
        if len(k := self.knuckles):
            beside, of = own.copy(), own[:-1].copy()
            beside[k - 1] = beside[k + 1] = of[k - 1] = of[k] = own[k] + 1
            bend.append(beside)
            segment.append(of)
        return bend, segment

    @cached_property
    def places(self) -> Index:
        """Where the products of `Rest.system` go in the banded matrix."""
        return np.concatenate(
            [
                (np.maximum(a, b) - np.minimum(a, b)) * self.size + np.minimum(a, b)
                for slots in self._slots
                for i, a in enumerate(slots)
                for b in slots[i:]
            ]
        )

    @cached_property
    def slopes(self) -> Index:
        """Where the gradients of the bends go."""
        return np.concatenate(self._slots[0])


def plan(
    feet: Array, knuckles: Index, nodes: int, directed: tuple[bool, bool], together: float
) -> tuple[Layout, Array]:
    """Nodes at the feet of the marks and evenly between; their places along the batten."""
    order = np.argsort(feet, kind="stable")
    fresh = np.r_[True, np.diff(feet[order]) > together]
    group = np.empty(len(feet), dtype=np.intp)
    group[order] = np.cumsum(fresh) - 1
    at = feet[order][fresh]
    at[group[knuckles]] = feet[knuckles]
    spans = np.diff(at)
    least = 3 if len(knuckles) else 2
    counts = np.maximum(least, np.rint(spans / spans.sum() * (nodes - 1)).astype(np.intp))
    posts = np.r_[0, np.cumsum(counts)]
    layout = Layout(int(posts[-1]) + 1, posts, posts[group], posts[group[knuckles]], directed)
    return layout, np.interp(np.arange(layout.count), posts, at)


@dataclass(frozen=True, eq=False)
class Task:
    """What the batten is asked: marks, which are knuckles, set directions of the ends (unit vectors), nodes."""

    marks: Complex
    knuckles: Index
    ends: tuple[complex | None, complex | None]
    nodes: int

    @property
    def directed(self) -> tuple[bool, bool]:
        """Whether each end has a set direction."""
        return self.ends[0] is not None, self.ends[1] is not None

    def start(self, weight: Array, pinned: Flags) -> Rest:
        """First guess: least second differences of both coordinates over the chords from mark to mark."""
        chords = np.r_[0.0, np.cumsum(np.abs(np.diff(self.marks)))]
        together = TOGETHER * float(chords[-1]) / self.nodes
        layout, at = plan(chords, self.knuckles, self.nodes, self.directed, together)
        n = layout.count
        length, inverse = np.zeros(n + 1), np.zeros(n + 1)
        length[1:-1] = np.diff(at)
        inverse[1:-1] = 1 / length[1:-1]
        before, after = inverse[:-1], inverse[1:]
        own = -(before + after)
        scale = 2 * layout.charge / (length[:-1] + length[1:])
        band = np.zeros((3, n))
        band[0] = scale * own**2
        band[0, :-1] += (scale * before**2)[1:]
        band[0, 1:] += (scale * after**2)[:-1]
        band[1, :-1] = (scale * before * own)[1:] + (scale * own * after)[:-1]
        band[2, :-2] = (scale * before * after)[1:-1]
        held = np.where(pinned, PIN * band[0].max(), weight)
        band[0] += np.bincount(layout.mark_node, held, n)
        pull = np.bincount(layout.mark_node, held * self.marks.real, n) + 1j * np.bincount(
            layout.mark_node, held * self.marks.imag, n
        )
        first, last = self.ends
        if first is not None:
            pull[:2] += scale[0] * first * np.array([own[0], after[0]])
        if last is not None:
            pull[-2:] -= scale[-1] * last * np.array([before[-1], own[-1]])
        factor, bad = lapack.dpbtrf(band, lower=1)
        if bad:
            raise BadGeometry("the marks do not hold the batten: fewer than two of them count; add marks.")
        both, _ = lapack.dpbtrs(factor, np.column_stack([pull.real, pull.imag]), lower=1)
        return Rest(self, layout, both[:, 0] + 1j * both[:, 1])


@dataclass(frozen=True, eq=False)
class Rest:
    """One line through the nodes, and all that follows from it."""

    task: Task
    layout: Layout
    z: Complex

    @cached_property
    def _bends(self) -> tuple[Array, Complex, Array, Array, Complex]:
        """Length and direction of the segments; at the nodes curvature, the length it holds for, and tangent."""
        along = self.z[1:] - self.z[:-1]
        length = np.asarray(np.abs(along), dtype=np.float64)
        way = along / length
        ways = np.empty(len(self.z) + 1, dtype=complex)
        ways[1:-1] = way
        ways[0] = way[0] if self.task.ends[0] is None else self.task.ends[0]
        ways[-1] = way[-1] if self.task.ends[1] is None else self.task.ends[1]
        lengths = np.zeros(len(ways))
        lengths[1:-1] = length
        mean = np.asarray((lengths[:-1] + lengths[1:]) / 2)
        turn = ways[:-1].conj() * ways[1:]
        curvature: Array = np.arctan2(turn.imag, turn.real) / mean
        tangent: Complex = np.asarray(ways[:-1] * lengths[1:] + ways[1:] * lengths[:-1], dtype=np.complex128)
        return length, way, curvature, mean, tangent / np.abs(tangent)

    @property
    def lengths(self) -> Array:
        """(N - 1,) lengths of the segments."""
        return self._bends[0]

    @property
    def curvature(self) -> Array:
        """(N,) curvature at the nodes; zero at free ends and knuckles."""
        return np.asarray(self._bends[2] * self.layout.charge)

    @property
    def tangent(self) -> Complex:
        """(N,) unit tangents at the nodes; midway at a knuckle."""
        return self._bends[4]

    @property
    def energy(self) -> float:
        """½∫κ² ds."""
        _, _, curvature, mean, _ = self._bends
        return 0.5 * float(np.dot(self.layout.charge * mean, curvature**2))

    @cached_property
    def s(self) -> Array:
        """(N,) length along the line: chords with the rise of their arcs."""
        length = self._bends[0]
        bend = self.curvature
        arc = length * (1 + length**2 * (bend[:-1] + bend[1:]) ** 2 / 96)
        return np.asarray(np.r_[0.0, np.cumsum(arc)])

    @cached_property
    def off(self) -> Array:
        """Line less mark for each observation: to the left of the line, then along it for the knuckles."""
        node, (along, across) = self.layout.mark_node, self._to_marks
        left = 0.5 * self.curvature[node] * along**2 - across
        return np.r_[left, -along[self.task.knuckles]] if len(self.task.knuckles) else left

    @cached_property
    def _to_marks(self) -> tuple[Array, Array]:
        """From each mark's node to the mark: along the tangent, and to the left of it."""
        node = self.layout.mark_node
        away = self.tangent[node].conj() * (self.task.marks - self.z[node])
        return away.real, away.imag

    @cached_property
    def system(self) -> tuple[Array, Array]:
        """Gradient (M,) and lower banded Hessian (bands, M) of the bending energy."""
        length, way, curvature, mean, tangent = self._bends
        lay = self.layout
        n, slots = lay.count, 3 + bool(len(lay.knuckles))
        normal = 1j * tangent
        left, right = -way.conj() * normal[:-1], way.conj() * normal[1:]
        # derivatives by the slots of each bend: of its angle (turn) and of its length (stretch)
        turn, stretch = np.zeros((slots, n)), np.zeros((slots, n))
        swing_left, swing_right = left.imag / length, right.imag / length
        turn[0, 1:] = -swing_left
        turn[1, 1:] = -swing_right
        turn[1, :-1] += swing_left
        turn[2, :-1] = swing_right
        stretch[0, 1:] = stretch[1, :-1] = left.real / 2
        stretch[1, 1:] += right.real / 2
        stretch[2, :-1] = right.real / 2
        ends = [left, right]
        if len(k := lay.knuckles):
            before, after = way[k - 1].conj() * tangent[k], -way[k].conj() * tangent[k]
            turn[3, k - 1], stretch[3, k - 1] = before.imag / length[k - 1], before.real / 2
            turn[3, k + 1], stretch[3, k + 1] = -after.imag / length[k], after.real / 2
            shift = np.zeros(n - 1, dtype=complex)
            shift[k - 1], shift[k] = before, after
            ends.append(shift)
        moment = lay.charge * curvature
        gradient = moment * (turn - 0.5 * curvature * stretch)
        row = turn - curvature * stretch
        stiff = lay.charge / mean
        products: list[Array] = []
        for i in range(slots):
            weighted = stiff * row[i]
            products.extend(weighted * row[j] for j in range(i, slots))
        pull = moment * curvature
        twist = (moment[1:] - moment[:-1]) / length**2
        press = -0.25 * (pull[1:] + pull[:-1]) / length
        for i, a in enumerate(ends):
            products.extend(twist * (a.real * b.imag + a.imag * b.real) + press * a.imag * b.imag for b in ends[i:])
        band = np.bincount(lay.places, np.concatenate(products), (lay.width + 1) * lay.size)
        slope = np.bincount(lay.slopes, gradient.ravel(), lay.size)
        return slope.astype(np.float64), band.astype(np.float64).reshape(lay.width + 1, lay.size)

    def moved(self, step: Array, share: float) -> Rest:
        """Move along the unknowns."""
        lay = self.layout
        z = self.z + share * step[lay.unknown] * (1j * self.tangent)
        if len(k := lay.knuckles):
            z[k] += share * step[lay.unknown[k] + 1] * self.tangent[k]
        return Rest(self.task, lay, z)

    @cached_property
    def _stray(self) -> Array:
        """How far along the line each mark's foot lies from its node."""
        node = self.layout.mark_node
        along, across = self._to_marks
        stray = along / np.maximum(1 - self.curvature[node] * across, 0.2)
        stray[self.task.knuckles] = 0.0
        return stray

    def strays(self) -> bool:
        """Whether the feet of the marks have left their nodes."""
        return bool(np.any(np.abs(self._stray) > _STRAY * float(self.s[-1]) / self.task.nodes))

    def afresh(self) -> Rest:
        """The same line with its nodes at the feet of the marks again."""
        lay = self.layout
        feet = self.s[lay.mark_node] + self._stray
        marks = self.task.knuckles
        if len(marks):  # a mark stays on its own side of a knuckle
            fences = np.r_[-np.inf, feet[marks], np.inf]
            branch = np.searchsorted(marks, np.arange(len(feet)))
            feet = np.clip(feet, fences[branch], fences[branch + 1])
        together = TOGETHER * float(self.s[-1]) / self.task.nodes
        at = np.full(len(lay.posts), np.nan)
        at[np.searchsorted(lay.posts, lay.mark_node)] = feet
        was, now = np.diff(self.s[lay.posts]), np.diff(at)
        single = len(lay.posts) == len(feet)
        if single and np.all((now > together) & (now < 1.5 * was) & (now > 0.6 * was)):
            places = np.interp(np.arange(lay.count), lay.posts, at)
        else:
            lay, places = plan(feet, marks, self.task.nodes, self.task.directed, together)
        return Rest(self.task, lay, self.at(places))

    def at(self, s: Array) -> Complex:
        """Points at lengths s along the line (straight on past its ends)."""
        _, way, _, _, tangent = self._bends
        k = np.clip(np.searchsorted(self.s, s, side="right") - 1, 0, len(way) - 1)
        into, out = tangent[:-1].copy(), tangent[1:].copy()
        for knuckle in self.layout.knuckles:
            into[knuckle], out[knuckle - 1] = way[knuckle], way[knuckle - 1]
        length = self.s[k + 1] - self.s[k]
        u = (s - self.s[k]) / length
        c = np.clip(u, 0.0, 1.0)
        on = (
            self.z[k] * (1 + c * c * (2 * c - 3))
            + self.z[k + 1] * (c * c * (3 - 2 * c))
            + length * (into[k] * (c * (1 - c) ** 2) - out[k] * (c * c * (1 - c)))
        )
        past = (u - c) * length
        return np.asarray(on + np.where(past < 0, past * into[k], past * out[k]))

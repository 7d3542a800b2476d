"""Where to measure next: the places where one more mark most narrows the ± of the members that are to be made.

How much a mark narrows the ± does not depend on what it will read, only on where it is taken and how well: it is known
before the rule is picked up.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from threadpoolctl import threadpool_limits

from scrieve.errors import BadMarks
from scrieve.fairing.result import FairHull, MarkOff
from scrieve.geometry.blocktri import Blocks
from scrieve.wording import joined, length, tell

Array = NDArray[np.float64]

#: Places tried on each frame, and points of each wanted line at which its ± is asked.
_TRIED = 25
_ASKED = 25
#: Variance along the line of a mark that is no end and no knuckle: it says nothing of that [mm²].
_NOTHING = 1e12


@dataclass(frozen=True, slots=True)
class NextMark:
    """One place worth measuring, those before it in the list taken as measured.

    Attributes
    ----------
    frame : str
        The builder's label; empty for a station between frames.
    station_mm, height_mm, half_breadth_mm : float
        Where to hold the rule, by the fair hull so far [mm].
    v : float
        Share of the girth, 0 at the heel to 1 at the head.
    kind : str
        'heel', 'head' or 'knuckle' where it is one, else ''.
    gain : float
        Share by which the mean variance of the wanted lines falls, of what it was before this mark.
    sd_before_mm, sd_after_mm : float
        One standard deviation of the wanted lines, root mean square along them, before and after this mark [mm].
    """

    frame: str
    station_mm: float
    height_mm: float
    half_breadth_mm: float
    v: float
    kind: str
    gain: float
    sd_before_mm: float
    sd_after_mm: float


def hardly_checked(hull: FairHull, most: int = 4) -> str:
    """Say which marks the others hardly check, and how large a slip of each must be to show; nothing if there are none.

    Parameters
    ----------
    hull : FairHull
    most : int
        How many are named.

    References
    ----------
    `Placing.told_from`: what is told of each mark.
    """
    kinds = {mark.number: mark.kind for mark in hull.laid.marks} if hull.laid else {}
    late = hull.hardly_checked
    if not late:
        return ""

    def one(off: MarkOff) -> str:
        kind = f", {kinds[off.number]}" if kinds.get(off.number) else ""
        if not np.isfinite(off.told_from_mm):
            return f"frame {off.frame}, mark {off.number}{kind} (never)"
        size = length(off.told_from_mm)
        return tell("frame {f}, mark {n}{kind} (from {mm} on)", f=off.frame, n=off.number, kind=kind, mm=size)

    return tell(
        "Hardly checked by the other marks, so that only a large slip shows: {named}{more}. Measure such a mark a "
        "second time, by another way: the ± there takes it at its word.",
        named=joined([one(off) for off in late[:most]], "; "),
        more=f"; and {len(late) - most} more" if len(late) > most else "",
    )


def next_marks(
    hull: FairHull,
    wanted_frames: Sequence[str | float],
    count: int = 10,
    *,
    where: Sequence[str | float] | None = None,
    sigma_mm: float | None = None,
) -> tuple[NextMark, ...]:
    """Rank the places where one more mark most narrows the ± of the wanted frames' lines.

    The first is the best single mark; each next one is the best once those before it are taken. A mark's reading is a
    row r of the surface's unknowns with error s; measured, it turns their covariance V into
    V - V r (s² + rᵀV r)⁻¹ rᵀV. Summed over the wanted lines (square to them, evenly by length) that gives the fall of
    their mean variance, exactly, as long as stiffness and measuring error stay as they were learnt. An end or a knuckle
    is measured both ways, any other place square to the line only. Marks are tried at 25 even places of each frame and
    at every knuckle.

    Parameters
    ----------
    hull : FairHull
    wanted_frames : sequence of label or station [mm]
        The members that are to be made; they need have no marks yet.
    count : int
        How many places are wanted.
    where : sequence of label or station, optional
        Where a mark can be taken: every frame with marks and the wanted ones, unless given.
    sigma_mm : float, optional
        Error of the new marks, one standard deviation: the boat's own as the marks tell it, unless given [mm].

    Raises
    ------
    NoSuchFrame
        A label that the hull does not have, or a station outside the marks.
    BadMarks
        No frame is wanted, or there is nowhere to measure.

    References
    ----------
    .. [1] C. E. Rasmussen, C. K. I. Williams, Gaussian Processes for Machine Learning, 2006, eq. 2.24 and A.3: the
       variance of a prediction once a datum is added, which is the matrix inversion lemma.
    """
    wanted = _stations(hull, wanted_frames)
    if not wanted:
        raise BadMarks("no frame is wanted; name those that are to be made.")
    tried = _stations(hull, [*hull.stations, *wanted_frames] if where is None else where)
    if not tried:
        raise BadMarks("there is nowhere to measure; name the frames that can be reached.")
    error = hull.error_mm if sigma_mm is None else sigma_mm
    with threadpool_limits(1, "blas"):  # the blocks are small: threads would only wait for each other
        return _ranked(hull, wanted, tried, count, error)


def _ranked(
    hull: FairHull, wanted: dict[float, str], tried: dict[float, str], count: int, error: float
) -> tuple[NextMark, ...]:
    asked, share = _wanted_rows(hull, wanted)
    place = _places(hull, tried)
    rows = [hull.fit.grid.rows(place.x, place.v, d) for d in (place.normal, place.along)]
    own = np.stack([np.full(len(place.x), error**2), np.where(place.pinned, error**2, _NOTHING)], axis=1)

    chain = _Chain.of(hull.fit.covariance)
    size = hull.fit.grid.blocks * hull.fit.grid.block
    asked_rows = _dense(*asked, size)
    across = chain.dot(asked_rows.T)  # V qᵀ of every asked point
    variance = np.einsum("qn,nq->q", asked_rows, across)
    index, value = (np.stack(pair, axis=1) for pair in zip(*rows, strict=True))
    turn = np.stack([place.normal, place.along], axis=1)
    spread = turn @ hull.fit.point_covariance(place.x, place.v) @ turn.transpose(0, 2, 1)  # each place with itself
    joint = np.einsum("ckm,ckmq->ckq", value, across[index])  # (c, 2, q): each place with each asked point

    made: list[NextMark] = []
    taken = np.empty((size, 0))  # V of now is V of the start less taken·takenᵀ
    for _ in range(min(count, len(place.x))):
        whole = spread + own[:, :, None] * np.eye(2)
        told = np.einsum("ckq,q,clq->ckl", joint, share, joint)
        fall = np.einsum("ckl,clk->c", np.linalg.inv(whole), told)
        best = int(np.argmax(fall))
        root = np.linalg.inv(np.linalg.cholesky(whole[best]))
        told_here = root @ joint[best]
        before = float(share @ variance)
        variance = variance - np.sum(told_here**2, axis=0)
        made.append(_named(hull, place, best, before, float(share @ variance)))

        row = _dense(index[best], value[best], size)
        column = (chain.dot(row.T) - taken @ (row @ taken).T) @ root.T
        link = np.einsum("ckm,ckml->ckl", value, column[index])  # each place with the mark just taken
        spread = spread - link @ link.transpose(0, 2, 1)
        joint = joint - link @ told_here
        taken = np.hstack([taken, column])
    return tuple(made)


@dataclass(frozen=True, slots=True, eq=False)
class _Places:
    """Where a mark might be taken: n places with the directions square to the section and along it."""

    frame: tuple[str, ...]
    x: Array
    v: Array
    kind: tuple[str, ...]
    normal: Array
    along: Array

    @property
    def pinned(self) -> NDArray[np.bool_]:
        return np.array([kind != "" for kind in self.kind])


@dataclass(frozen=True, slots=True, eq=False)
class _Chain:
    """A covariance whose inverse is block tridiagonal, of which the blocks on and next to the diagonal are given.

    The blocks form a Markov chain: given its neighbour, a block knows nothing of those beyond. So any other block of
    the covariance is a product of steps V(i+1, i)·V(i, i)⁻¹ along the way, and a product with it costs one sweep each
    way.
    """

    diagonal: Array
    steps: Array  # (k-1, b, b): V(i+1, i+1)⁻¹·V(i+1, i)

    @classmethod
    def of(cls, covariance: Blocks) -> _Chain:
        return cls(covariance.diagonal, np.asarray(np.linalg.solve(covariance.diagonal[1:], covariance.below)))

    def dot(self, right: Array) -> Array:
        """Covariance times (k·b, m)."""
        k, b = self.diagonal.shape[:2]
        given = right.reshape(k, b, -1)
        from_left, from_right = np.zeros_like(given), np.zeros_like(given)
        for i in range(k - 1):
            from_left[i + 1] = self.steps[i] @ (given[i] + from_left[i])
        for i in range(k - 2, -1, -1):
            from_right[i] = self.steps[i].T @ (self.diagonal[i + 1] @ given[i + 1] + from_right[i + 1])
        return np.asarray((self.diagonal @ (given + from_left) + from_right).reshape(right.shape))


def _stations(hull: FairHull, frames: Sequence[str | float]) -> dict[float, str]:
    found = [hull.station_of(at) for at in frames]
    return {x: label for label, x in sorted(found, key=lambda pair: pair[1])}


def _wanted_rows(hull: FairHull, wanted: dict[float, str]) -> tuple[tuple[NDArray[np.intp], Array], Array]:
    """Rows square to the wanted lines, and the share of all their length that each stands for."""
    v = (np.arange(_ASKED) + 0.5) / _ASKED
    x, share = np.repeat(list(wanted), _ASKED), np.tile(v, len(wanted))
    normal, _ = hull.normal(x, share)
    weight = np.hypot(*hull.fit.value(x, share, by_v=1).T)
    return hull.fit.grid.rows(x, share, normal), weight / weight.sum()


def _places(hull: FairHull, tried: dict[float, str]) -> _Places:
    each = [(station, label, *place) for station, label in tried.items() for place in _places_on(hull, station)]
    x, labels, v, kinds = (list(column) for column in zip(*each, strict=True))
    normal, _ = hull.normal(x, v)
    along = np.column_stack([-normal[:, 1], normal[:, 0]])
    return _Places(tuple(labels), np.array(x), np.array(v), tuple(kinds), normal, along)


def _places_on(hull: FairHull, station_mm: float) -> list[tuple[float, str]]:
    """Shares of the girth to try on one section, and which is an end, or a knuckle that the section has there."""
    inner = hull.knuckles_at(station_mm)
    even = np.linspace(0, 1, _TRIED)[1:-1].tolist()
    plain = [v for v in even if all(abs(v - at) > 0.4 / _TRIED for at in inner)]
    return sorted([(0.0, "heel"), (1.0, "head"), *((v, "knuckle") for v in inner), *((v, "") for v in plain)])


def _dense(index: NDArray[np.intp], value: Array, size: int) -> Array:
    full = np.zeros((len(index), size))
    np.put_along_axis(full, index, value, axis=1)
    return full


def _named(hull: FairHull, place: _Places, which: int, before: float, after: float) -> NextMark:
    y, z = hull.fit.value(place.x[which], place.v[which])[0]
    return NextMark(
        place.frame[which],
        float(place.x[which]),
        float(z),
        float(y),
        float(place.v[which]),
        place.kind[which],
        (before - after) / before,
        float(np.sqrt(before)),
        float(np.sqrt(max(after, 0.0))),
    )

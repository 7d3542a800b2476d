"""Which marks of one line are slips: the batten draws the line, a smoother judge weighs the marks.

Least bending energy is a poor judge: it lets a line bend so freely that a mark 10 mm out hardly surprises it. The judge
here is a Gaussian process over the length along the marks, with a covariance (Matérn 7/2) whose lines have three
derivatives; its reach and height come from the marks that are kept, by restricted likelihood.
"""

from __future__ import annotations

import itertools
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from scrieve.fairing.batten_shape import one_thread

Array = NDArray[np.float64]
Index = NDArray[np.intp]

#: A mark is named when it lies this many standard deviations off what the others say: where the measuring error is
#: given, and where it must be learnt from the same few marks.
OUT_BY, OUT_BY_LEARNT = 3.5, 4.5
#: Fewer marks than this on one sweep of line are not judged.
LEAST_MARKS = 6
#: Of the marks worst by leaving one out, so many are tried with everything learnt afresh without them.
_TRIED = 6
#: Marks less surprising than this, by leaving one out, are not tried: with the error given, and learnt.
_WORTH, _WORTH_LEARNT = 2.0, 1.5
#: The same of the last two marks at either end, with the error given: a line whose curvature rises to its end is learnt
#: too smooth without them, and they must stand out though it was learnt with them.
_WORTH_END = 3.0
#: Where the error is learnt, no less than this share of the line's length is believed.
_LEAST_ERROR = 1e-5
#: Of all explanations less likely than the best by no more than e to this, the one with the largest error is believed.
_DOUBT = 3.0


@dataclass(frozen=True, slots=True)
class Suspect:
    """A mark that the others speak against.

    `mark` is its place in the list, from 0; `out_mm` how far it lies off what the others say, square to their line,
    above zero to the right of it (outside, for a frame from heel to head); `sd_mm` the standard deviation of that.
    """

    mark: int
    out_mm: float
    sd_mm: float

    @property
    def out_by_sd(self) -> float:
        """How surprising the mark is [-]."""
        return abs(self.out_mm) / self.sd_mm


def find_suspects(
    points: Array,
    sigma: Array | None,
    *,
    knuckles: Sequence[int] = (),
    keep: Collection[int] = (),
    out_by: float | None = None,
) -> tuple[Suspect, ...]:
    """Name the marks that lie too far off what all the others say, worst first.

    Parameters
    ----------
    points : ndarray (n, 2)
        Marks in order along the line [mm].
    sigma : ndarray (n,), optional
        Measuring error of each [mm]; learnt from the marks if not given.
    knuckles : sequence of int
        Marks at which the line breaks; each sweep between them is judged by itself, the knuckles never.
    keep : collection of int
        Marks that the builder stands by.
    out_by : float, optional
        Bound of |miss| / standard deviation [-]; 3.5 where `sigma` is given, otherwise 4.5.

    Notes
    -----
    An end mark has others on one side only: a slip there seldom shows. Judge ends along the hull. Where `sigma` is
    given the last two marks at either end must be more than 3 standard deviations off with everything learnt from all
    marks, too: a line that turns ever more sharply towards its end is not foretold by its middle.

    References
    ----------
    .. [1] Rasmussen & Williams, Gaussian Processes for Machine Learning, 2006: ch. 2.7 (linear mean), 4.2 (Matérn),
       5.4.2 (leaving one out).
    """
    if out_by is None:
        out_by = OUT_BY_LEARNT if sigma is None else OUT_BY
    found: list[Suspect] = []
    breaks = [0, *sorted(knuckles), len(points) - 1]
    safe = {*keep, *knuckles}
    with one_thread():
        for first, last in itertools.pairwise(breaks):
            found += _sweep(points, sigma, np.arange(first, last + 1), safe, out_by)
    return tuple(sorted(found, key=lambda suspect: -suspect.out_by_sd))


def _sweep(points: Array, sigma: Array | None, kept: Index, safe: Collection[int], out_by: float) -> list[Suspect]:
    named: list[Suspect] = []
    most = max(1, len(kept) // 4)
    worth = _WORTH_LEARNT if sigma is None else _WORTH
    while len(kept) >= LEAST_MARKS and len(named) < most:
        places = _along(points[kept])
        error = None if sigma is None else sigma[kept]
        surprise = _Judge.learn(places, points[kept], error).leave_one_out()
        surprise[np.isin(kept, list(safe))] = -1.0
        least = np.full(len(kept), worth)
        if sigma is not None:
            least[[0, 1, -2, -1]] = _WORTH_END
        doubtful = [int(place) for place in np.argsort(surprise)[::-1][:_TRIED] if surprise[place] > least[place]]
        trials = [_without(points, sigma, kept, place) for place in doubtful]
        worst = max(trials, key=lambda suspect: suspect.out_by_sd, default=None)
        if worst is None or worst.out_by_sd <= out_by:
            break
        named.append(worst)
        kept = kept[kept != worst.mark]
    return named


def _along(points: Array) -> Array:
    return np.asarray(np.r_[0.0, np.cumsum(np.hypot(*np.diff(points, axis=0).T))])


def _without(points: Array, sigma: Array | None, kept: Index, place: int) -> Suspect:
    """Judge one mark by the rest, everything learnt without it."""
    mark, rest = int(kept[place]), np.delete(kept, place)
    places = _along(points[rest])
    judge = _Judge.learn(places, points[rest], None if sigma is None else sigma[rest])
    low = min(max(place - 1, 0), len(rest) - 2)
    chord = points[rest[low + 1]] - points[rest[low]]
    at = places[low] + float((points[mark] - points[rest[low]]) @ chord) / float(np.hypot(*chord))
    step = 1e-3 * float(places[-1])
    for _ in range(2):
        line = judge.line(np.array([at - step, at, at + step]))
        way = (line[2] - line[0]) / (2 * step)
        reach = 0.5 * float(np.hypot(*chord))
        at += float(np.clip((points[mark] - line[1]) @ way / (way @ way), -reach, reach))
    line = judge.line(np.array([at - step, at + step]))
    way = (line[1] - line[0]) / float(np.hypot(*(line[1] - line[0])))
    miss, sd = judge.miss(at, points[mark], judge.noise if sigma is None else float(sigma[mark]))
    return Suspect(mark, float(miss[0] * way[1] - miss[1] * way[0]), sd)


def _matern(gap: Array) -> Array:
    r = np.sqrt(7.0) * np.abs(gap)
    return np.asarray((1 + r + 0.4 * r**2 + r**3 / 15) * np.exp(-r))


@dataclass(frozen=True, eq=False)
class _Judge:
    """Gaussian process over the length along the marks, linear mean, both coordinates alike."""

    places: Array
    points: Array
    error: Array
    reach: float
    height2: float
    noise: float

    @classmethod
    def learn(cls, places: Array, points: Array, sigma: Array | None) -> _Judge:
        """Reach and height (and the error, if not given) of greatest restricted likelihood."""
        n, span = len(places), float(places[-1] - places[0])
        error = np.ones(n) if sigma is None else sigma
        mean = np.column_stack([np.ones(n), places / span]) / error[:, None]
        rest = np.linalg.qr(mean, mode="complete")[0][:, 2:]
        told = rest.T @ (points / error[:, None])
        reaches = np.geomspace(0.5 * span / (n - 1), 4 * span, 20)
        alike = _matern((places[:, None] - places) / reaches[:, None, None]) / np.multiply.outer(error, error)
        spread, modes = np.linalg.eigh(rest.T @ alike @ rest)
        power = np.sum((np.swapaxes(modes, 1, 2) @ told) ** 2, axis=2)
        scale = span / float(np.sqrt(np.mean(error**2))) if sigma is not None else 1e4
        heights2 = np.geomspace(1e-2, max(1e3, (10 * scale) ** 2), 90) * float(np.mean(error**2))
        total = 1 + heights2[:, None, None] * np.maximum(spread, 0.0)
        miss = np.sum(power / total, axis=2)
        logdet = np.sum(np.log(total), axis=2)
        noise2 = np.ones_like(miss)
        if sigma is None:
            noise2 = np.maximum(miss / (2 * (n - 2)), (_LEAST_ERROR * span) ** 2)
        likely = -0.5 * miss / noise2 - (n - 2) * np.log(noise2) - logdet
        best = likely if sigma is not None else np.where(likely > likely.max() - _DOUBT, noise2, 0.0)
        i, j = np.unravel_index(int(np.argmax(best)), likely.shape)
        noise = float(np.sqrt(noise2[i, j]))
        return cls(places, points, error * noise, float(reaches[j]), float(heights2[i]) * noise**2, noise)

    @property
    def _inverse(self) -> Array:
        n = len(self.places)
        whole = np.zeros((n + 2, n + 2))
        whole[:n, :n] = self.height2 * _matern((self.places[:, None] - self.places) / self.reach)
        whole[:n, :n] += np.diag(self.error**2)
        whole[:n, n] = whole[n, :n] = 1.0
        whole[:n, n + 1] = whole[n + 1, :n] = self.places / self.places.max()
        return np.asarray(np.linalg.inv(whole), dtype=np.float64)

    def leave_one_out(self) -> Array:
        """Miss of each mark over its standard deviation, predicted from the others, square to the line."""
        n = len(self.places)
        inverse = self._inverse
        own = np.diag(inverse)[:n]
        miss = inverse[:n, :n] @ self.points / own[:, None]
        way = np.gradient(self.points, self.places, axis=0)
        way /= np.hypot(*way.T)[:, None]
        square = np.abs(miss[:, 0] * way[:, 1] - miss[:, 1] * way[:, 0])
        return np.asarray(square * np.sqrt(np.maximum(own, 0.0)))

    def line(self, at: Array) -> Array:
        """Points (m, 2) that the judge expects at lengths along the marks."""
        n = len(self.places)
        seen = np.empty((len(at), n + 2))
        seen[:, :n] = self.height2 * _matern((at[:, None] - self.places) / self.reach)
        seen[:, n], seen[:, n + 1] = 1.0, at / self.places.max()
        return np.asarray((seen @ self._inverse)[:, :n] @ self.points)

    def miss(self, at: float, point: Array, error: float) -> tuple[Array, float]:
        """One more mark less what the others say of it, and the standard deviation of that."""
        places, points = np.append(self.places, at), np.vstack([self.points, point])
        both = replace(self, places=places, points=points, error=np.append(self.error, error))
        row = both._inverse[len(self.places), : len(places)]
        return row @ points / row[-1], float(1 / np.sqrt(row[-1]))

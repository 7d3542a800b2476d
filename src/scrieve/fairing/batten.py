"""The batten: the line of least bending energy along marks that are a little wrong, as a lath sprung past nails."""

from __future__ import annotations

import itertools
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from scrieve.errors import BadGeometry
from scrieve.fairing.batten_checks import check_settings, errors_of, places_of, refuse_folds
from scrieve.fairing.batten_settle import Settled, settle
from scrieve.fairing.batten_shape import TOGETHER, Task, one_thread
from scrieve.fairing.batten_smoothing import Stiffness, choose, reckon, weigh
from scrieve.fairing.batten_suspects import Suspect, find_suspects
from scrieve.working import Working

Array = NDArray[np.float64]
Index = NDArray[np.intp]

#: A sweep of curvature that turns less than this is not counted as one [rad].
_LEAST_TURN = 1e-3
#: The ± is reckoned at so many places and at the marks, and drawn straight between them.
_BAND_PLACES = 400
#: Fewer marks than this do not show their own error: without one given, the batten passes through them.
_LEAST_TO_LEARN = 7
_SOURCE = "docs/batten.md"


@dataclass(frozen=True, slots=True)
class End:
    """What holds an end of the batten.

    Free by default; `fixed` to pass exactly through the end mark; `direction_rad` sets the direction of travel there,
    counter-clockwise from the first axis [rad].
    """

    fixed: bool = False
    direction_rad: float | None = None

    def __post_init__(self) -> None:
        if self.direction_rad is not None and not np.isfinite(self.direction_rad):
            raise BadGeometry(f"direction {self.direction_rad:g} of an end; give an angle.")


FREE = End()


@dataclass(frozen=True, slots=True)
class Reversal:
    """A place where the batten goes from hollow to round."""

    s_mm: float
    point_mm: tuple[float, float]


@dataclass(frozen=True, eq=False)
class Batten:
    """A batten at rest along its marks; N nodes, n marks.

    Attributes
    ----------
    points_mm : ndarray (N, 2)
        Nodes in order along the batten [mm].
    s_mm : ndarray (N,)
        Length along the batten [mm].
    direction_rad : ndarray (N,)
        Direction of travel, counter-clockwise from the first axis, without jumps of a full turn [rad]. At a knuckle
        it is midway between the two directions.
    curvature_per_mm : ndarray (N,)
        Above zero where the batten turns left; zero at free ends and knuckles [1/mm].
    mark_s_mm, residual_mm : ndarray (n,)
        Foot of each mark, and mark less line, square to the line: above zero to the right (outside, for a frame from
        heel to head) [mm].
    counts : ndarray (n,)
        Whether the mark had a say: false for suspects and dropped marks.
    knuckle_rad : ndarray (number of knuckles,)
        Turn at each knuckle, above zero to the left [rad].
    suspects : tuple of Suspect
        Marks that did not count because the others speak against them, worst first.
    smoothing : float
        λ of Σ(d/σ)² + λ∫κ² ds [mm where σ is given, mm³ where not]; 0 is a batten through all its marks.
    chosen_by : str
        'unbiased risk', 'cross-validation', 'given' or 'interpolating'.
    why : str
        The same in a sentence.
    energy_per_mm : float
        ½∫κ² ds; times the stiffness EI [N·mm²] it is the work to bend the batten [1/mm].
    reversals : tuple of Reversal
        Where curvature changes its sign between sweeps that each turn by more than 0.001 rad; a knuckle is none.
    workings : tuple of Working
        How the figures came about.
    """

    points_mm: Array
    s_mm: Array
    direction_rad: Array
    curvature_per_mm: Array
    mark_s_mm: Array
    residual_mm: Array
    counts: NDArray[np.bool_]
    knuckle_rad: Array
    suspects: tuple[Suspect, ...]
    smoothing: float
    chosen_by: str
    why: str
    energy_per_mm: float
    reversals: tuple[Reversal, ...]
    _settled: Settled = field(repr=False)
    _given: _Given = field(repr=False)

    @property
    def length_mm(self) -> float:
        """Length of the batten [mm]."""
        return float(self.s_mm[-1])

    @cached_property
    def _stiffness(self) -> Stiffness:
        given = self._given
        return reckon(self._settled, given.sigma, known=given.known)

    @property
    def chi2(self) -> float:
        """Σ(d/σ)² of the marks that count and are not held in place [-]; σ is 1 mm where none was given."""
        return self._stiffness.chi2

    @property
    def freedoms(self) -> float:
        """How many of those marks the line follows: tr A [-]."""
        return self._stiffness.freedoms

    @property
    def noise_mm(self) -> float:
        """Measuring error: the root mean square of those given, or what the marks show; NaN if they cannot [mm]."""
        given = self._given
        if given.known:
            return float(np.sqrt(np.mean((given.sigma * given.length) ** 2)))
        return self._stiffness.noise

    @cached_property
    def sd_mm(self) -> Array:
        """(N,) one standard deviation of the line, square to itself [mm].

        Of a smoothed batten, the posterior of the least-energy prior (Wahba, Spline Models for Observational Data,
        1990, ch. 5); marks held in place count as true. Of a batten through all its marks, what their measuring
        errors alone make of it, NaN where those are not known.
        """
        settled, given = self._settled, self._given
        lay = settled.rest.layout
        if self.smoothing > 0:
            some = np.union1d(lay.posts, np.linspace(0, lay.count - 1, _BAND_PLACES).round().astype(np.intp))
            within = settled.spread(lay.unknown[some])[lay.unknown[some], np.arange(len(some))]
            pulls = settled.weight > 0
            prior = float(np.mean(settled.weight[pulls] * given.sigma[pulls] ** 2))  # 1/λ of the energy that was laid
            scale = self._relative_noise * np.sqrt(prior)
            sd = given.length * scale * np.sqrt(np.maximum(within, 0.0))
            return np.asarray(np.interp(self.s_mm, self.s_mm[some], sd))
        if not given.known:
            return np.full(lay.count, np.nan)
        moved = settled.spread(lay.seen)
        moved = moved / moved[lay.seen, np.arange(len(lay.seen))]
        return np.asarray(np.sqrt((moved[lay.unknown] ** 2) @ (given.sigma * given.length) ** 2))

    @property
    def _relative_noise(self) -> float:
        return 1.0 if self._given.known or not np.isfinite(self.noise_mm) else self.noise_mm

    @cached_property
    def workings(self) -> tuple[Working, ...]:
        """How stiffness, energy and ± came about."""
        count = int(self.counts.sum())
        unit = "mm" if self._given.known else "mm³"
        return (
            Working(
                "Stiffness of the batten",
                f"{self.smoothing:.4g} {unit}",
                {
                    "unbiased risk": "least χ² + 2 tr A",
                    "cross-validation": "least n χ² / (n − tr A)² · (0.2 + 0.8 tr A² / n)",
                }.get(self.chosen_by, "as given"),
                (
                    ("marks that count", f"{count}"),
                    ("χ² = Σ(d/σ)²", f"{self.chi2:.4g}"),
                    ("freedoms tr A", f"{self.freedoms:.3g}"),
                    ("measuring error", f"{self.noise_mm:.3g} mm"),
                ),
                "Wahba, Spline Models for Observational Data, 1990, ch. 4; " + _SOURCE,
                self.why,
            ),
            Working(
                "Bending energy of the line",
                f"{self.energy_per_mm:.4g} 1/mm",
                "½ Σ φ²/l over the nodes: φ the turn [rad], l the length it takes [mm]",
                (("nodes", f"{len(self.s_mm)}"), ("length", f"{self.length_mm:.1f} mm")),
                "Love, Mathematical Theory of Elasticity, art. 262-263; " + _SOURCE,
            ),
        )


@dataclass(frozen=True, eq=False)
class _Given:
    """The counting marks in units of the batten's length: where they are, and how sure."""

    centre: complex
    length: float
    sigma: Array
    known: bool


def lay_batten(
    points: ArrayLike,
    sigma: ArrayLike | None = None,
    *,
    smoothing: float | None = None,
    knuckles: Sequence[int] = (),
    ends: tuple[End, End] = (FREE, FREE),
    hold: Mapping[int, float] | None = None,
    judge: bool = True,
    keep: Collection[int] = (),
    drop: Collection[int] = (),
    nodes: int = 200,
) -> Batten:
    """Lay a batten along marks.

    Parameters
    ----------
    points : array_like (n, 2)
        Marks in order along the line, at least three [mm].
    sigma : float or array_like (n,), optional
        Measuring error of the marks, one standard deviation [mm].
    smoothing : float, optional
        λ of Σ(d/σ)² + λ∫κ² ds; 0 lays the batten through every mark. Chosen, if not given, by unbiased risk where
        `sigma` is given and by cross-validation where not (σ then counts as 1 mm).
    knuckles : sequence of int
        Inner marks at which the line may break; counted from 0, like all marks here.
    ends : (End, End)
        What holds the first and the last end.
    hold : mapping of mark to tolerance
        The line passes within so much of these marks [mm]; 0 for through them.
    judge : bool
        Look for suspects; they do not count.
    keep, drop : collection of int
        Marks that the builder stands by, whatever the judge says; and marks that shall not count.
    nodes : int
        Nodes along the batten, at least 20; more are set where marks are close.

    Raises
    ------
    BadGeometry
        Fewer than three marks that count, figures that are none, marks on one another, a line that folds back, a
        knuckle or hold at no such mark; or the batten finds no rest.

    References
    ----------
    .. [1] docs/batten.md: equations, sources and measured accuracy.

    Examples
    --------
    Small offsets give the cubic spline of the books: 11/16 between (0, 0), (1, 1), (2, 0), drawn low.

    >>> line = lay_batten([(0, 0), (1, 1e-4), (2, 0)], smoothing=0, judge=False)
    >>> round(float(np.interp(0.5, *line.points_mm.T)) * 1e4, 2)
    0.69
    """
    marks = places_of(points)
    n = len(marks)
    known = sigma is not None
    error = errors_of(sigma, n)
    limits = dict(hold or {})
    check_settings(n, smoothing, knuckles, limits, {*keep, *drop}, nodes)
    for end, number in ((ends[0], 0), (ends[1], n - 1)):
        if end.fixed:
            limits[number] = 0.0
    refuse_folds(marks, error if known else np.zeros(n))
    left = np.setdiff1d(np.arange(n), list(drop))
    suspects: tuple[Suspect, ...] = ()
    if judge:
        suspects = _judged(marks, error if known else None, left, knuckles, {*keep, *limits})
    left = np.setdiff1d(left, [suspect.mark for suspect in suspects])
    if missing := sorted({*limits, *knuckles} - {int(i) for i in left}):
        raise BadGeometry(f"mark {missing[0] + 1} is held or a knuckle, and dropped; it can be only one of them.")
    if len(left) < 3:
        raise BadGeometry(f"{len(left)} marks count; a batten needs at least three. Measure more marks.")
    with one_thread():
        return _lay(marks, error, known, left, suspects, smoothing, sorted(knuckles), ends, limits, nodes)


def _judged(
    marks: Array, error: Array | None, left: Index, knuckles: Sequence[int], safe: Collection[int]
) -> tuple[Suspect, ...]:
    place = {int(mark): k for k, mark in enumerate(left)}
    found = find_suspects(
        marks[left],
        None if error is None else error[left],
        knuckles=[place[k] for k in knuckles if k in place],
        keep=[place[k] for k in safe if k in place],
    )
    return tuple(Suspect(int(left[s.mark]), s.out_mm, s.sd_mm) for s in found)


def _lay(
    marks: Array,
    error: Array,
    known: bool,
    left: Index,
    suspects: tuple[Suspect, ...],
    smoothing: float | None,
    knuckles: Sequence[int],
    ends: tuple[End, End],
    limits: Mapping[int, float],
    nodes: int,
) -> Batten:
    whole = marks[:, 0] + 1j * marks[:, 1]
    kept = whole[left]
    centre, length = complex(kept.mean()), float(np.abs(np.diff(kept)).sum())
    broken = np.searchsorted(left, np.asarray(knuckles, dtype=np.intp))
    ways = [None if e.direction_rad is None else complex(np.exp(1j * e.direction_rad)) for e in ends]
    task = Task((kept - centre) / length, broken, (ways[0], ways[1]), nodes)
    tolerance = np.full(len(left), np.inf)
    for mark, limit in limits.items():
        tolerance[np.searchsorted(left, mark)] = limit / length
    if smoothing == 0:
        tolerance[:] = 0.0
    _refuse_pinned_together(task, tolerance, left, length)
    tolerance = np.r_[tolerance, np.where(tolerance[broken] == 0, 0.0, np.inf)]
    scaled = np.r_[error[left], error[left][broken]] / length
    if smoothing is None and np.all(tolerance == 0):
        smoothing = 0.0
    few = smoothing is None and not known and len(left) < _LEAST_TO_LEARN + 2 * len(broken)
    if few:
        smoothing, tolerance = 0.0, np.zeros_like(tolerance)
        _refuse_pinned_together(task, tolerance[: len(left)], left, length)
    if smoothing is None:
        settled, value = choose(task, scaled, tolerance, known=known)
    else:
        weight = np.zeros_like(scaled) if smoothing == 0 else weigh(smoothing / length, scaled)
        settled = settle(task.start(weight[: len(left)], tolerance[: len(left)] == 0), weight, tolerance)
        value = smoothing / length
    given = _Given(centre, length, scaled, known)
    return _result(settled, value * length, given, whole, left, suspects, _said(known, smoothing, few))


def _refuse_pinned_together(task: Task, tolerance: Array, left: Index, length: float) -> None:
    pinned = tolerance == 0
    gap = np.abs(np.diff(task.marks))
    least = TOGETHER / task.nodes
    if len(close := np.flatnonzero(pinned[1:] & pinned[:-1] & (gap <= least))):
        i = int(close[0])
        raise BadGeometry(
            f"marks {left[i] + 1} and {left[i + 1] + 1} are {gap[i] * length:.2g} mm apart, too close for a batten to "
            "pass through both; take one out, or let it smooth."
        )


def _result(
    settled: Settled,
    laid: float,
    given: _Given,
    whole: NDArray[np.complex128],
    left: Index,
    suspects: tuple[Suspect, ...],
    said: tuple[str, str],
) -> Batten:
    rest, length = settled.rest, given.length
    marks = (whole - given.centre) / length
    counts = np.zeros(len(whole), dtype=bool)
    counts[left] = True
    node = np.empty(len(whole), dtype=np.intp)
    node[left] = rest.layout.mark_node
    for i in np.flatnonzero(~counts):
        node[i] = int(np.argmin(np.abs(rest.z - marks[i])))
    to_mark = rest.tangent[node].conj() * (marks - rest.z[node])
    z = rest.z * length + given.centre
    sweeps = np.angle(rest.tangent[1:] / rest.tangent[:-1])
    k = rest.layout.knuckles
    return Batten(
        points_mm=np.column_stack([z.real, z.imag]),
        s_mm=rest.s * length,
        direction_rad=np.angle(rest.tangent[0]) + np.r_[0.0, np.cumsum(sweeps)],
        curvature_per_mm=rest.curvature / length,
        mark_s_mm=(rest.s[node] + to_mark.real) * length,
        residual_mm=(0.5 * rest.curvature[node] * to_mark.real**2 - to_mark.imag) * length,
        counts=counts,
        knuckle_rad=np.angle((rest.z[k + 1] - rest.z[k]) / (rest.z[k] - rest.z[k - 1])),
        suspects=suspects,
        smoothing=laid,
        chosen_by=said[0],
        why=said[1],
        energy_per_mm=rest.energy / length,
        reversals=_reversals(settled, given),
        _settled=settled,
        _given=given,
    )


def _said(known: bool, smoothing: float | None, few: bool) -> tuple[str, str]:
    if few:
        return (
            "interpolating",
            f"No measuring error was given, and fewer than {_LEAST_TO_LEARN} marks (two more for each knuckle) do not "
            "show it: the batten passes through every mark that counts.",
        )
    if smoothing == 0:
        return "interpolating", "The batten passes through every mark that counts."
    if smoothing is not None:
        return "given", "The stiffness was given."
    if known:
        return (
            "unbiased risk",
            "The measuring error was given: the stiffness is the one whose expected error is least, by χ² + 2 tr A.",
        )
    return (
        "cross-validation",
        "No measuring error was given: the stiffness is the one that best foretells each mark from the others. "
        "On few marks this is a rougher guess; give the measuring error if it is known.",
    )


def _reversals(settled: Settled, given: _Given) -> tuple[Reversal, ...]:
    rest = settled.rest
    bend = rest.curvature
    turn = np.gradient(rest.s) * bend
    places: list[float] = []
    breaks = [0, *rest.layout.knuckles.tolist(), rest.layout.count - 1]
    for first, last in itertools.pairwise(breaks):
        inner = np.arange(first, last + 1)
        inner = inner[bend[inner] != 0]
        cuts = np.flatnonzero(np.diff(np.sign(bend[inner]))) + 1
        sweeps = [sweep for sweep in np.split(inner, cuts) if abs(float(turn[sweep].sum())) > _LEAST_TURN]
        for one, two in itertools.pairwise(sweeps):
            a, b = one[-1], two[0]
            if bend[a] * bend[b] < 0:
                places.append(float(rest.s[a] + (rest.s[b] - rest.s[a]) * bend[a] / (bend[a] - bend[b])))
    if not places:
        return ()
    z = rest.at(np.array(places)) * given.length + given.centre
    return tuple(Reversal(s * given.length, (float(p.real), float(p.imag))) for s, p in zip(places, z, strict=True))

"""One trial: marks taken off a form, faired, and held against the truth and against the opponents on the same marks."""

from __future__ import annotations

import time
from dataclasses import dataclass, field

import numpy as np
from forms import Form
from opponents import KERNELS, Cache, equal_shares
from planted import Take, departures, take_off
from scipy.spatial import cKDTree
from threadpoolctl import threadpool_limits

from scrieve.boat import Boat
from scrieve.fairing import FairHull, fair

WITHHELD = (6, 11, 17)
SIGMA_MM = 1.5
BOAT = Boat("bench", sigma_mm=SIGMA_MM)
#: Departures are asked at so many points of each section, evenly by girth.
POINTS = 200


@dataclass(frozen=True)
class Lines:
    """How the faired sections lie to the truth: `off` (stations, points) with its sign, outwards above zero [mm]."""

    off: np.ndarray
    sd: np.ndarray

    def take(self, which: list[int]) -> Lines:
        return Lines(self.off[which], self.sd[which])

    @property
    def inside(self) -> np.ndarray:
        return np.abs(self.off) < 2 * self.sd


@dataclass(frozen=True)
class Trial:
    """What one trial gave; `withheld` and `ends` are indices of stations."""

    take: Take
    lines: Lines
    withheld: tuple[int, ...]
    seconds: float
    planted: int
    named: int
    small: int  # planted, of 10 to 12 mm
    good: int
    false: int
    missed: tuple[str, ...]
    knuckle: np.ndarray  # (stations, knuckles): how far the knuckle lies from the true one [mm]
    error_scale: float
    stiffness: tuple[float, float]
    clean: Lines | None = None
    others: dict[str, np.ndarray] = field(default_factory=dict)

    @property
    def inner(self) -> list[int]:
        return [k for k in range(1, len(self.take.stations) - 1) if k not in self.withheld]

    @property
    def ends(self) -> list[int]:
        return [k for k in (0, len(self.take.stations) - 1) if k not in self.withheld]


def truth(form: Form, station: float, scale: float = 1.0) -> np.ndarray:
    return form.dense(station / scale, 40_001)[0] * scale


def signed(points: np.ndarray, true: np.ndarray) -> np.ndarray:
    """How far points (n, 2) lie off a chain that runs heel to head, outwards above zero."""
    away, near = cKDTree(true).query(points)
    step = true[np.minimum(near + 1, len(true) - 1)] - true[np.maximum(near - 1, 0)]
    off = points - true[near]
    return np.where(off[:, 0] * step[:, 1] - off[:, 1] * step[:, 0] >= 0, away, -away)


def lines(hull: FairHull, take: Take, scale: float = 1.0) -> Lines:
    """Departures at all stations within the marks; a station outside them is not a number."""
    off, sd = np.full((2, len(take.stations), POINTS), np.nan)
    for k, station in enumerate(take.stations):
        if hull.x_range[0] - 1e-6 <= station <= hull.x_range[1] + 1e-6:
            section = hull.section(float(station), points=POINTS)
            off[k], sd[k] = signed(section.points_mm, truth(take.form, station, scale)), section.sd_mm
    return Lines(off, sd)


def knuckles(hull: FairHull, take: Take, scale: float = 1.0) -> np.ndarray:
    off = np.empty((len(take.stations), len(take.form.knuckles)))
    for k, station in enumerate(take.stations):
        true = take.form.section(station / scale, np.array(take.form.knuckles)) * scale
        found = hull.fit.value(np.full(len(true), station), np.array(hull.features[1:-1]))
        off[k] = np.hypot(*(found - true).T)
    return off


def trial(
    form: Form,
    seed: int,
    *,
    withheld: tuple[int, ...] = WITHHELD,
    opponents: bool = True,
    frames: int = 25,
    marks: int = 14,
    scale: float = 1.0,
    uneven: float = 0.15,
    wrong_share: float = 0.02,
) -> Trial:
    def taken(share: float) -> Take:
        return take_off(
            form, seed, frames=frames, marks=marks, scale=scale, uneven=uneven, withheld=withheld, wrong_share=share
        )

    take = taken(wrong_share)
    began = time.process_time()
    hull = fair(take.marks, BOAT)
    seconds = time.process_time() - began
    suspects = {mark.number - 1 for mark in hull.suspects}
    size = np.abs(take.wrong)
    planted = set(np.flatnonzero(size > 12).tolist())
    good = set(np.flatnonzero(size == 0).tolist())
    missed = tuple(
        f"frame {take.marks[i].frame} {take.marks[i].kind or f'v {hull.offs[i].v:.2f}'} "
        f"{take.wrong[i]:+.0f} mm (z {hull.offs[i].out_by_sd:.1f})"
        for i in sorted(planted - suspects)
    )
    clean, others = None, {}
    if opponents:
        before = taken(0.0)
        clean = lines(fair(before.marks, BOAT), before, scale)
        at, corners = take.stations[list(withheld)], len(form.knuckles)
        kept = [mark for i, mark in enumerate(take.marks) if i not in suspects]
        cache = Cache()
        with threadpool_limits(1):
            found = {"spline": equal_shares(before.marks, at, corners)}
            for kernel in KERNELS:
                found[kernel] = cache(kernel, before.marks, at, corners)
                found[f"{kernel}, ours out"] = cache(kernel, kept, at, corners)
        others = {
            name: np.stack([signed(points, truth(form, x, scale)) for x, points in sections.items()])[:, :: 1 if len(
                next(iter(sections.values()))) < 100 else 5]
            for name, sections in found.items()
        }  # fmt: skip
    return Trial(
        take,
        lines(hull, take, scale),
        withheld,
        seconds,
        len(planted),
        len(planted & suspects),
        int(np.sum((size > 0) & (size <= 12))),
        len(good),
        len(good & suspects),
        missed,
        knuckles(hull, take, scale),
        hull.fit.error_scale,
        (float(hull.fit.stiffness[0] - hull.fit.grid.usual[0]), float(hull.fit.stiffness[1] - hull.fit.grid.usual[1])),
        clean,
        others,
    )


def between(form: Form, seed: int, *, frames: int) -> tuple[float, float]:
    """Half-way between frames without blunders: share within 2 sd, and how far off, root mean square [mm]."""
    take = take_off(form, seed, frames=frames)
    hull = fair(take.marks, BOAT)
    parts = [departures(hull, form, x) for x in (take.stations[1:] + take.stations[:-1]) / 2]
    off, sd = (np.concatenate(each) for each in zip(*parts, strict=True))
    return float(np.mean(off < 2 * sd)), float(np.sqrt(np.mean(off**2)))


@dataclass(frozen=True)
class EndTrial:
    """Blunders at heel, head and knuckles: how far each such end moved from where it stood without them [mm]."""

    form: str
    kind: str
    frame: int
    size_mm: float
    along: bool
    named: bool
    moved_mm: float
    before_mm: float  # how far the end was from the true one without the blunder
    after_mm: float
    sd_mm: float
    out_by_sd: float = float("nan")  # of one not named: how far off it lies of what is foretold without it
    foretold_mm: float = float("nan")  # and how well that is known, one standard deviation


def left_out(take: Take, mark: int, feature: int) -> tuple[float, float]:
    """How far a mark of an end lies off what all others foretell, in standard deviations, and that deviation [mm].

    The hull is faired anew without it; both ways are weighed, each as one standard deviation would be of one way.
    """
    one = take.marks[mark]
    hull = fair(take.marks, BOAT, answers={one.number: "drop"})
    share = hull.features[feature]
    spread = hull.fit.point_covariance(one.station_mm, share)[0]
    miss = np.array([one.half_breadth_mm, one.height_mm]) - hull.fit.value(one.station_mm, share)[0]
    whole = spread + np.eye(2) * (SIGMA_MM * hull.fit.error_scale) ** 2
    return float(np.sqrt(miss @ np.linalg.solve(whole, miss))), float(np.sqrt(np.trace(spread)))


def end_trials(form: Form, seed: int, *, frames: int = 25, marks: int = 14) -> list[EndTrial]:
    """Fair with and without a blunder at a heel, one at a head, one at each knuckle, each on a frame of its own."""
    clean = take_off(form, seed, frames=frames, marks=marks)
    rng = np.random.default_rng(seed + 5000)
    places = [0, marks - 1]
    by_frame = [mark for mark in clean.marks if mark.frame == "0"]
    places += [i for i, mark in enumerate(by_frame) if mark.kind == "knuckle"]
    chosen = rng.choice(frames, len(places), replace=False)
    if seed % 3 == 0:
        chosen[0], chosen[1] = 1, frames - 2  # the hard places: next to the ends
    if seed % 3 == 1:
        chosen[0], chosen[1] = frames - 1, 0
    wrong, slid, plants = {}, {}, []
    for number, frame in enumerate(chosen.tolist()):
        own = [i for i, mark in enumerate(clean.marks) if mark.frame == str(frame)]
        kinds = [i for i in own if clean.marks[i].kind == "knuckle"]
        mark = own[0] if number == 0 else own[-1] if number == 1 else kinds[number - 2]
        size = float(np.exp(rng.uniform(np.log(12), np.log(300))) * rng.choice([-1, 1]))
        along = bool(rng.integers(2))
        (slid if along else wrong)[frame, mark - own[0]] = size
        plants.append((mark, frame, size, along, number))
    take = take_off(form, seed, frames=frames, marks=marks, wrong=wrong, slid=slid)
    hulls = [fair(clean.marks, BOAT), fair(take.marks, BOAT)]
    suspects = {mark.number - 1 for mark in hulls[1].suspects}
    made = []
    for mark, frame, size, along, number in plants:
        x = clean.stations[frame]
        feature = 0 if number == 0 else -1 if number == 1 else number - 1
        t = 0.0 if number == 0 else 1.0 if number == 1 else form.knuckles[number - 2]
        true = form.section(x, np.array([t]))[0]
        before, after = (hull.fit.value(x, hull.features[feature])[0] for hull in hulls)
        index, value = (
            np.stack(part, axis=1)
            for part in zip(*(hulls[1].fit.grid.rows(x, hulls[1].features[feature], d[None]) for d in np.eye(2)),
                            strict=True)
        )  # fmt: skip
        spread = hulls[1].fit.row_covariance(index, value)[0]
        unnamed = () if mark in suspects else left_out(take, mark, feature)
        made.append(
            EndTrial(
                form.name,
                ("heel", "head")[number] if number < 2 else "knuckle",
                frame,
                size,
                along,
                mark in suspects,
                float(np.hypot(*(after - before))),
                float(np.hypot(*(before - true))),
                float(np.hypot(*(after - true))),
                float(np.sqrt(np.trace(spread))),
                *unnamed,
            )
        )
    return made

"""Pose and order: where each frame of a set lies on the bed, and which follows which, for the least setting time."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from scrieve.errors import BadJig
from scrieve.fairing.batten_shape import one_thread
from scrieve.frames.choice import FrameChoice
from scrieve.frames.jig.bed import ERROR_LIMIT_MM, JigBed
from scrieve.frames.jig.poses_curve import Curve, Pose
from scrieve.frames.jig.poses_fit import Fitter, PoseLimits
from scrieve.frames.jig.poses_order import check_order
from scrieve.frames.jig.poses_search import Chain, Progress, Search
from scrieve.frames.jig.setting import JigSetting
from scrieve.frames.jig.setting_workings import plan_workings
from scrieve.frames.packet.bending import Bent
from scrieve.working import Working

__all__ = ["FrameToSet", "Plan", "Pose", "PoseLimits", "SetUp", "plan_settings"]


@dataclass(frozen=True, slots=True, eq=False)
class FrameToSet:
    """One frame of the set: its packet as bent, its choice (label, clearance, bearing), poses allowed, and precedence.

    `after` names the frames that must be made, and fitted, before this one.
    """

    bent: Bent
    choice: FrameChoice
    limits: PoseLimits = field(default_factory=PoseLimits)
    after: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class SetUp:
    """One frame's turn on the jig.

    `moved` and `kept` are rails, counted from 1; `setting` the jig's after it; `departure_mm` the packet's from its
    curve by its true shape, `limit_mm` the most allowed anywhere along it: more than the tolerance only where rails so
    far apart cannot hold it.
    """

    frame: str
    pose: Pose
    moved: tuple[int, ...]
    kept: tuple[int, ...]
    travel_mm: float
    minutes: float
    departure_mm: float
    limit_mm: float
    setting: JigSetting


@dataclass(frozen=True, slots=True, eq=False)
class Plan:
    """The set-ups in the order of gluing.

    `minutes` is their setting time, `naive_minutes` that of the same frames as numbered, each with its chord on the
    same datum. `bound_minutes` is, for up to ten frames, the least any order could take if each change cost the least
    found for that pair of frames (found by search, not proven); None otherwise. `stopped` tells that it was cut short,
    `before` how the jig stood before the first turn, None where that was not known.
    """

    setups: tuple[SetUp, ...]
    minutes: float
    naive: tuple[SetUp, ...]
    naive_minutes: float
    bound_minutes: float | None
    stopped: bool
    bed: JigBed
    before: JigSetting | None = None

    @property
    def order(self) -> tuple[str, ...]:
        """Labels in the order of gluing."""
        return tuple(each.frame for each in self.setups)

    @property
    def saving(self) -> float:
        """Share of the naive setting time saved."""
        return 1 - self.minutes / self.naive_minutes if self.naive_minutes else 0.0

    @property
    def gap(self) -> float | None:
        """How far above the bound the plan is, as a share of it; None without a bound."""
        return self.minutes / self.bound_minutes - 1 if self.bound_minutes else None

    @property
    def workings(self) -> tuple[Working, ...]:
        """How the setting time came about."""
        return plan_workings(self.setups, self.minutes, self.naive_minutes, self.bound_minutes, self.bed)


def plan_settings(
    frames: Sequence[FrameToSet],
    bed: JigBed,
    present: JigSetting | None = None,
    *,
    tolerance_mm: float = ERROR_LIMIT_MM,
    keep_order: bool = False,
    progress: Progress | None = None,
    stop: Callable[[], bool] | None = None,
) -> Plan:
    """Pose a set of frames on the bed and order them so that setting the jig takes the least time.

    Parameters
    ----------
    frames : sequence of FrameToSet
        The set, as numbered.
    bed : JigBed
        The jig, with its times.
    present : JigSetting, optional
        How it stands now; without it the first frame sets every bracket anew.
    tolerance_mm : float
        The most by which a packet may leave its curve, on brackets set for it and left from others.
    keep_order : bool
        Keep the order given; only the poses are sought.
    progress : callable, optional
        Called with steps done, steps in all and the best minutes so far.
    stop : callable, optional
        Asked between steps; once it says true the best plan so far is returned.

    Raises
    ------
    BadJig
        A label stands twice, precedence goes in a circle or names no frame of the set, or a frame does not go on the
        bed: the message says which and why.

    References
    ----------
    .. [1] docs/jig.md, "Pose and order".
    """
    if not frames:
        raise BadJig("no frames to plan; choose the frames that are to be made.")
    labels = [each.choice.frame for each in frames]
    first, before = check_order(labels, [each.after for each in frames])
    fitters = [Fitter(Curve(each.bent, each.choice, bed), each.limits, tolerance_mm) for each in frames]
    bare = np.full(bed.rails, np.nan)
    start = Chain(*(present.arrays(bed) if present else (bare, bare.copy())))
    search = Search(fitters, before, start, progress, stop)
    numbered = list(range(len(frames)))
    with one_thread():
        naive = search.naive(numbered)
        search.seek(first, keep_order)
    chosen, chain = search.best
    return Plan(
        _setups(chosen, chain, start, fitters, bed),
        chain.minutes,
        _setups(numbered, naive, start, fitters, bed),
        naive.minutes,
        search.bound,
        search.stopped,
        bed,
        present,
    )


def _setups(
    order: Sequence[int], chain: Chain, start: Chain, fitters: Sequence[Fitter], bed: JigBed
) -> tuple[SetUp, ...]:
    setups = []
    travel = start.travel
    for i, seat in zip(order, chain.seats, strict=True):
        moved = seat.under & ~seat.kept
        by = np.where(np.isfinite(travel), np.abs(seat.travel_mm - travel), 0.0)
        setups.append(
            SetUp(
                fitters[i].curve.label,
                seat.pose,
                tuple((np.flatnonzero(moved) + 1).tolist()),
                tuple((np.flatnonzero(seat.kept) + 1).tolist()),
                float(by[moved].sum()),
                seat.minutes,
                fitters[i].true_departure(seat),
                float(fitters[i].allowed_mm.max()),
                JigSetting.of_arrays(bed, seat.travel_mm, seat.lean_rad),
            )
        )
        travel = seat.travel_mm
    return tuple(setups)

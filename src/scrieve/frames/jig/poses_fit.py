"""Poses of one packet that leave brackets where they stand, and whether the packet still keeps its curve on them."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from numpy.typing import NDArray

from scrieve.frames.jig.bed import TRAVEL_STEP_MM
from scrieve.frames.jig.poses_curve import Curve, Flags, Met, Pose, natural_spline
from scrieve.frames.packet.lying import lie_on
from scrieve.frames.parts import Array

Index = NDArray[np.intp]

#: Of brackets farther than this from a pose's curve none is tried to be left.
_NEAR_MM = 3.0
#: The turn counts in the fit as so many mm, that its three unknowns are of one size.
_ARM_MM = 1000.0
#: Candidates eased at once, and of those the most that are settled.
_LOT, _CHUNK = 64, 32
#: Eased, a candidate with a departure up to this share of what is allowed is worth settling.
_HOPE = 1.0
#: The small-departure sum is held to this share of the tolerance; the true shape is reckoned afterwards.
_SHARE = 0.97


@dataclass(frozen=True, slots=True)
class PoseLimits:
    """How far a frame may be shifted and turned from where it lies as numbered.

    `along_mm` either way (at most half a pitch where none is given), `across_mm` outwards, `turn_rad` either way.
    """

    along_mm: float | None = None
    across_mm: float = 600.0
    turn_rad: float = float(np.radians(12.0))


@dataclass(frozen=True, slots=True, eq=False)
class Seat:
    """One packet set on the bed, J rails: pose, travels after it, which brackets it bears on and which stayed put.

    `departure` is by small departures, over what is allowed; `minutes` is what it costs from the setting before.
    """

    pose: Pose
    travel_mm: Array
    lean_rad: Array
    under: Flags
    kept: Flags
    departure: float
    minutes: float


class Fitter:
    """Seats of one packet on one bed.

    Parameters
    ----------
    curve : Curve
        Its bearing face.
    limits : PoseLimits
        Poses allowed.
    tolerance_mm : float
        The most by which the packet may leave the wanted curve.
    """

    def __init__(self, curve: Curve, limits: PoseLimits, tolerance_mm: float) -> None:
        self.curve, self.bed = curve, curve.bed
        every = curve.bed.along_mm
        self.reference = curve.reference(every)
        here = self.reference.array()
        along = self.bed.pitch_mm / 2 if limits.along_mm is None else limits.along_mm
        ways = here[1] + np.array([curve.low - along - self.bed.pitch_mm, curve.high + along + self.bed.pitch_mm])
        self.window = slice(*np.searchsorted(every, ways).tolist())
        self.rails = every[self.window]
        self.least = here - np.array([limits.turn_rad, along, here[2]])
        self.most = here + np.array([limits.turn_rad, along, limits.across_mm])
        self.tolerance_mm = tolerance_mm
        self.allowed_mm = np.full(len(curve.look_s), tolerance_mm)
        tries = here + np.outer(np.linspace(-along, along, 9), [0.0, 1.0, 0.0])
        tries = tries[self.curve.fits(self.curve.meet(tries, self.rails), tries)]
        anew = np.zeros((len(tries), len(self.rails)), dtype=bool)
        unset = np.full(anew.shape, np.nan)
        worst = self._judge(tries, unset, anew)[2]
        if len(worst) and worst.min() > _SHARE:
            self._allow(tries[[int(np.argmin(worst))]], tolerance_mm)
            worst = self._judge(tries, unset, anew)[2]
        self.anew = tries[np.argsort(worst, kind="stable")[:3]]

    def _allow(self, pose: Array, tolerance_mm: float) -> None:
        """Where rails so far apart cannot hold the packet to the tolerance, allow what the best setting leaves."""
        none = np.zeros((1, len(self.rails)), dtype=bool)
        pose, travel, _ = self._judge(pose, np.full(none.shape, np.nan), none)
        met = self.curve.meet(pose, self.rails)
        rows, rails = self._alike(met.under)[0]
        rest = self._part(pose, travel, met.under, met, np.ix_(rows, rails)).departure()[0]
        reach = max(int(self.bed.pitch_mm / 2 / float(np.diff(self.curve.look_s[:2])[0])), 1)
        spread = np.lib.stride_tricks.sliding_window_view(np.pad(np.abs(rest), reach, mode="edge"), 2 * reach + 1)
        self.allowed_mm = tolerance_mm * np.maximum(1.0, 1.05 * spread.max(axis=1) / _SHARE)

    def as_numbered(self, travel: Array, lean: Array) -> Seat:
        """The naive seat: chord on the datum; every bracket set to its travel, but left where within 0.5 mm."""
        whole, whole_lean, travel, lean = travel, lean, travel[self.window], lean[self.window]
        poses = self.reference.array()[None]
        met = self.curve.meet(poses, self.rails)
        under = met.under[0]
        exact = _to_step(met.height_mm[0])
        kept = under & (np.abs(exact - travel) <= TRAVEL_STEP_MM)
        new = np.where(under & ~kept, exact, travel)
        departure = np.full(1, np.inf)
        for rows, rails in self._alike(met.under):
            part = self._part(poses, new[None], met.under, met, np.ix_(rows, rails))
            departure = np.abs(part.departure()).max(axis=1)
        leans = np.where(under, met.lean_rad[0], lean)
        cost = self._minutes(travel, new, lean, leans, under)
        seat = Seat(self.reference, new, leans, under, kept, float(departure[0]), cost)
        return self._whole(seat, whole, whole_lean)

    def seats(self, travel: Array, lean: Array, wanted: int = 6) -> list[Seat]:
        """Seats from a setting, cheapest first, up to `wanted` of them; none where no pose goes on the bed.

        Where none holds the packet to what is allowed, the one that comes nearest.
        """
        whole, whole_lean, travel, lean = travel, lean, travel[self.window], lean[self.window]
        poses, kept = self._candidates(travel)
        met = self.curve.meet(poses, self.rails)
        good = self.curve.fits(met, poses) & self._within(poses)
        kept = kept & met.under & np.isfinite(travel)
        known = np.isfinite(travel) & met.under
        apart = np.where(known & ~kept, np.abs(met.height_mm - np.where(known, travel, 0.0)), 0.0)
        guess = self.bed.move_min * (met.under & ~kept).sum(axis=1) + self.bed.mm_min * apart.sum(axis=1)
        order = np.flatnonzero(good)[np.argsort(guess[good], kind="stable")]
        found: list[Seat] = []
        closest: Seat | None = None
        for start in range(0, len(order), _LOT):
            mine = order[start : start + _LOT]
            eased, hope = self._ease(poses[mine], np.tile(travel, (len(mine), 1)), kept[mine])
            hopeful = np.flatnonzero((hope <= _HOPE) | (hope == hope.min()))[:_CHUNK]
            mine, eased = mine[hopeful], eased[hopeful]
            settings, worst = self._settle(eased, np.tile(travel, (len(mine), 1)), kept[mine])
            there = self.curve.meet(eased, self.rails)
            fits = self.curve.fits(there, eased)
            nearest = int(np.argmin(np.where(fits, worst, np.inf)))
            for row in np.flatnonzero(fits & ((worst <= _SHARE) | (np.arange(len(mine)) == nearest))):
                new, under = settings[row], there.under[row]
                leans = np.where(under, there.lean_rad[row], lean)
                cost = self._minutes(travel, new, lean, leans, under)
                pose = Pose(float(eased[row, 1]), float(eased[row, 2]), float(eased[row, 0]))
                seat = Seat(pose, new, leans, under, under & (new == travel), float(worst[row]), cost)
                if worst[row] <= _SHARE:
                    found.append(seat)
                elif closest is None or seat.departure < closest.departure:
                    closest = seat
            if len(found) >= wanted:
                break
        if not found and closest:
            found = [closest]
        return [self._whole(seat, whole, whole_lean) for seat in sorted(found, key=lambda s: s.minutes)[:wanted]]

    def _whole(self, seat: Seat, travel: Array, lean: Array) -> Seat:
        """The seat on all rails of the bed, those out of reach as they stood."""
        travel, lean = travel.copy(), lean.copy()
        under, kept = np.zeros((2, len(travel)), dtype=bool)
        for whole, part in (
            (travel, seat.travel_mm),
            (lean, seat.lean_rad),
            (under, seat.under),
            (kept, seat.kept),
        ):
            whole[self.window] = part
        return replace(seat, travel_mm=travel, lean_rad=lean, under=under, kept=kept)

    def true_departure(self, seat: Seat) -> float:
        """The most by which the packet leaves its curve in a seat, by its true shape [mm]."""
        curve = self.curve
        met = curve.meet(seat.pose.array()[None], self.rails)
        rails = self._alike(met.under)[0][1]
        off = -curve.side * np.cos(met.lean_rad[0]) * (seat.travel_mm[self.window] - met.height_mm[0])
        stations = curve.stations(met)[0]
        return lie_on(curve.bent, stations[rails], off[rails]).error_mm

    def why_not(self) -> str:
        """Why the packet cannot be set on this bed at all."""
        curve, bed = self.curve, self.bed
        met = curve.meet(self.reference.array()[None], self.rails)
        under = met.under[0]
        high = float(met.height_mm[0][under].max(initial=0.0))
        lean = float(np.degrees(np.abs(met.lean_rad[0][under]).max(initial=0.0)))
        over = [f"stands {by:.0f} mm over {where}" for by, where in curve.over_edges(self.reference)]
        stands = f" As numbered it {' and '.join(over)}." if over else ""
        return (
            f"frame {curve.label} does not go on this jig: its packet spans {curve.high - curve.low:.0f} mm and meets "
            f"{int(under.sum())} rails, with a travel up to {high:.0f} mm and a swivel up to {lean:.0f}°; the jig has "
            f"{bed.brackets} brackets on {bed.rails} rails {bed.pitch_mm:g} mm apart, a travel from "
            f"{bed.travel_least_mm:g} to {bed.travel_most_mm:g} mm and a swivel up to "
            f"{np.degrees(bed.swivel_most_rad):.0f}°.{stands} Make it in two lengths, or describe a larger jig."
        )

    def _minutes(self, old: Array, new: Array, old_lean: Array, lean: Array, under: Flags) -> float:
        bed = self.bed
        moved = under & ~(new == old)
        by = np.where(np.isfinite(old), np.abs(new - old), 0.0)
        cost = bed.frame_min + bed.move_min * float(moved.sum()) + bed.mm_min * float(by[moved].sum())
        if bed.swivel_min:
            cost += bed.swivel_min * float((under & ~(np.abs(lean - old_lean) <= np.radians(1.0))).sum())
        return cost

    def _within(self, poses: Array) -> Flags:
        return np.asarray(np.all((poses >= self.least - 1e-9) & (poses <= self.most + 1e-9), axis=1))

    def _candidates(self, travel: Array) -> tuple[Array, Flags]:
        """Poses (P, 3) and the brackets each is to leave (P, J): exact on threes of brackets, then on those near."""
        here = self.reference.array()[None]
        met = self.curve.meet(here, self.rails)
        known = np.isfinite(travel)
        none = np.zeros((len(self.anew), len(self.rails)), dtype=bool)
        if np.logical_and(met.under[0], known).sum() < 3:
            return self.anew, none
        aligned = self._fit(here, (met.under & known).astype(float), travel, 4)
        seat = self.curve.meet(aligned, self.rails)
        usable = np.flatnonzero(np.logical_and(seat.under[0], known))
        if len(usable) < 3:
            return self.anew, none
        threes = usable[_threes(len(usable))]
        masks = np.zeros((len(threes), len(self.rails)))
        np.put_along_axis(masks, threes, 1.0, axis=1)
        poses = self._fit(np.repeat(aligned, len(threes), axis=0), masks, travel, 5)
        off = self._off(poses, travel)
        sets, starts = [*none, none[0]], [*self.anew, aligned[0]]
        ranked = np.argsort(off, axis=1)
        sizes = np.minimum((off <= _NEAR_MM).sum(axis=1), 16)
        order = np.argsort(off.clip(max=2 * _NEAR_MM).sum(axis=1))
        seen: set[bytes] = set()
        for i in order:
            for size in range(2, int(sizes[i]) + 1):
                mask = none[0].copy()
                mask[ranked[i, :size]] = True
                if (key := mask.tobytes()) not in seen:
                    seen.add(key)
                    sets.append(mask)
                    starts.append(poses[i])
        for anchor in self.anew:  # two brackets leave the pose a freedom: keep to places that suit the packet
            there = self.curve.meet(anchor[None], self.rails).under[0]
            under = np.flatnonzero(np.logical_and(there, known))
            for pair in itertools.combinations(under, 2):
                mask = none[0].copy()
                mask[list(pair)] = True
                sets.append(mask)
                starts.append(anchor)
        kept = np.array(sets)
        fitted = self._fit(np.array(starts), kept.astype(float), travel, 2)
        fitted = np.where(np.any(kept, axis=1, keepdims=True), fitted, np.array(starts))
        return fitted, kept

    def _off(self, poses: Array, travel: Array) -> Array:
        """(P, J) how far each standing bracket is from the packet, square to it; inf where it is not under it."""
        met = self.curve.meet(poses, self.rails)
        off = np.abs(travel - met.height_mm) * np.cos(met.lean_rad)
        return np.where(met.under & np.isfinite(travel), off, np.inf)

    def _fit(self, poses: Array, weight: Array, travel: Array, rounds: int) -> Array:
        """Least squares of the heights at the weighted rails to their travels, by Gauss-Newton, within the limits."""
        scale = np.array([_ARM_MM, 1.0, 1.0])
        goal = np.where(np.isfinite(travel), travel, 0.0)
        for _ in range(rounds):
            met = self.curve.meet(poses, self.rails)
            w = np.where(met.under & np.isfinite(travel), weight, 0.0)
            slope = self.curve.slopes(poses, self.rails, met) / scale
            pull = w[:, :, None] * slope
            normal = np.einsum("pji,pjk->pik", pull, slope)
            normal += 1e-7 * np.trace(normal, axis1=1, axis2=2)[:, None, None] * np.eye(3) + 1e-12 * np.eye(3)
            rhs = np.einsum("pji,pj->pi", pull, goal - met.height_mm)
            step = np.linalg.solve(normal, rhs[:, :, None])[:, :, 0]
            longest = np.maximum(np.abs(step[:, :2]).max(axis=1), 1e-9)
            step *= np.minimum(1.0, 0.5 * self.bed.pitch_mm / longest)[:, None]
            poses = np.clip(poses + step / scale, self.least, self.most)
        return np.asarray(poses)

    def _judge(self, poses: Array, travel: Array, kept: Flags) -> tuple[Array, Array, Array]:
        """Poses eased and settings settled: poses (C, 3), travels (C, J), departure (C,)."""
        eased, _ = self._ease(poses, travel, kept)
        return eased, *self._settle(eased, travel, kept)

    def _ease(self, poses: Array, travel: Array, kept: Flags) -> tuple[Array, Array]:
        """Poses moved for the least departure with the kept brackets where they stand, and what that may come to."""
        poses = poses.copy()
        hope = np.full(len(poses), np.inf)
        met = self.curve.meet(poses, self.rails)
        for rows, rails in self._alike(met.under):
            part = self._part(poses, travel, kept & met.under, met, np.ix_(rows, rails))
            moves, hope[rows] = part.ease()
            poses[rows] = np.clip(poses[rows] + moves, self.least, self.most)
        return poses, hope

    def _settle(self, poses: Array, travel: Array, kept: Flags) -> tuple[Array, Array]:
        """Travels (C, J) to the half millimetre, and the departure (C,) over what is allowed."""
        settings = travel.copy()
        worst = np.full(len(poses), np.inf)
        met = self.curve.meet(poses, self.rails)
        for rows, rails in self._alike(met.under):
            at = np.ix_(rows, rails)
            part = self._part(poses, travel, kept & met.under, met, at)
            settings[at], worst[rows] = part.settle(_SHARE, TRAVEL_STEP_MM / self.tolerance_mm)
        return settings, worst

    def _alike(self, under: Flags) -> list[tuple[Index, Index]]:
        """Rows of poses that bear on the same rails, and those rails from the heel; three at least."""
        groups: dict[bytes, list[int]] = {}
        for i, mine in enumerate(under):
            groups.setdefault(mine.tobytes(), []).append(i)
        flip = slice(None, None, -1) if self.curve.side > 0 else slice(None)
        pairs = ((np.array(rows), np.flatnonzero(under[rows[0]])[flip]) for rows in groups.values())
        return [(rows, rails) for rows, rails in pairs if len(rails) >= 3]

    def _part(self, poses: Array, travel: Array, kept: Flags, met: Met, at: tuple[Index, ...]) -> _Part:
        curve = self.curve
        stations = curve.stations(met)[at]
        spread = natural_spline(stations, curve.look_s)
        rise = np.interp(stations, curve.fine_s, curve.fine_rise)
        bare = np.einsum("cmk,ck->cm", spread, rise) - curve.look_rise
        slope = curve.slopes(poses, self.rails, met)[at]
        square = -curve.side * np.cos(met.lean_rad[at])
        bare = bare / self.allowed_mm
        spread = spread / self.allowed_mm[:, None]
        return _Part(spread, bare, square, slope, met.height_mm[at], travel[at], kept[at])


@dataclass(frozen=True, slots=True, eq=False)
class _Part:
    """C poses on the same k rails, m places looked at.

    `spread` (C, m, k) carries moves of the brackets, square to the packet, to departures, as shares of what is
    allowed; `bare` (C, m) is the departure on the exact curve; `square` (C, k) turns travel into moves to the left
    of the packet.
    """

    spread: Array
    bare: Array
    square: Array
    slope: Array
    height: Array
    travel: Array
    kept: Flags

    @property
    def held(self) -> Array:
        """(C, k) how far the kept brackets hold the packet to the left of its curve; 0 where free."""
        return np.where(self.kept, self.square * (np.where(self.kept, self.travel, 0.0) - self.height), 0.0)

    def departure(self) -> Array:
        """(C, m) departure with the kept brackets where they stand, the others on the curve."""
        return np.asarray(self.bare + np.einsum("cmk,ck->cm", self.spread, self.held))

    def ease(self) -> tuple[Array, Array]:
        """(C, 3) change of pose for the least departure, free brackets following, and that departure (C,)."""
        off = self.departure()
        by_pose = np.einsum("cmk,cki->cmi", self.spread, -(self.square * self.kept)[:, :, None] * self.slope)
        by_pose[:, :, 0] /= _ARM_MM
        columns = np.concatenate([self.spread * ~self.kept[:, None, :], by_pose], axis=2)
        shares, hope = _balance(columns, off, 6)
        moves = shares[:, -3:]
        moves[:, 0] /= _ARM_MM
        return np.clip(moves, [-0.01, -15.0, -15.0], [0.01, 15.0, 15.0]), hope

    def settle(self, limit: float, step_share: float) -> tuple[Array, Array]:
        """Travels (C, k) to the half millimetre, the free brackets set to best effect, and the departure (C,).

        A bracket's step of travel is the share `step_share` of what is allowed.
        """
        off = self.departure()
        free = np.zeros_like(self.height)
        hard = np.abs(off).max(axis=1) > limit - step_share / 4
        if hard.any():
            free[hard] = _balance(self.spread[hard] * ~self.kept[hard][:, None, :], off[hard], 10)[0]
        travel = np.where(self.kept, self.travel, _to_step(self.height + free / self.square))
        moved = np.where(self.kept, 0.0, self.square * (travel - self.height))
        rest = off + np.einsum("cmk,ck->cm", self.spread, moved)
        worst = np.abs(rest).max(axis=1)
        near = np.flatnonzero((worst > limit) & (worst < limit + step_share))
        for _ in range(2):
            for k in range(travel.shape[1] if len(near) else 0):
                for step in (TRAVEL_STEP_MM, -TRAVEL_STEP_MM):
                    trial = rest[near] + self.spread[near, :, k] * (self.square[near, k] * step)[:, None]
                    most = np.abs(trial).max(axis=1)
                    gain = (most < worst[near] - 1e-9) & ~self.kept[near, k]
                    rows = near[gain]
                    rest[rows], worst[rows] = trial[gain], most[gain]
                    travel[rows, k] += step
        return travel, worst


def _balance(columns: Array, off: Array, rounds: int) -> tuple[Array, Array]:
    """Shares of the columns (C, m, k) that, added to `off` (C, m), make its greatest size least (C, k), and it (C,).

    Iterated weighted least squares, each place weighing by how far the packet departs there (Lawson 1961).
    """
    size = columns.shape[2]
    weight = np.ones_like(off)
    best, least = np.zeros((len(off), size)), np.abs(off).max(axis=1)
    for _ in range(rounds):
        pull = (columns * weight[:, :, None]).transpose(0, 2, 1)
        normal = np.matmul(pull, columns)
        ridge = 1e-5 * np.trace(normal, axis1=1, axis2=2) / size + 1e-9
        normal += ridge[:, None, None] * np.eye(size)
        moves = np.linalg.solve(normal, -np.matmul(pull, off[:, :, None]))[:, :, 0]
        rest = np.abs(off + np.matmul(columns, moves[:, :, None])[:, :, 0])
        most = rest.max(axis=1)
        better = most < least
        best[better], least = moves[better], np.minimum(most, least)
        weight = weight * (rest / np.maximum(most, 1e-12)[:, None]) + 1e-4
        weight /= weight.mean(axis=1)[:, None]
    return best, least


def _to_step(travel: Array) -> Array:
    return np.asarray(np.round(travel / TRAVEL_STEP_MM) * TRAVEL_STEP_MM)


@cache
def _threes(count: int) -> NDArray[np.intp]:
    return np.array(list(itertools.combinations(range(count), 3)), dtype=np.intp)

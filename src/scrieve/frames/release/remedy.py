"""What to do about a frame that stands off its line: fit it, pull it in, plane it, or make it again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import linprog

from scrieve.errors import BadMarks, above_zero
from scrieve.frames.release.deviation import Deviation
from scrieve.frames.shape.displacement import Array, Target, displaced, lying, outward_of, rigid_columns
from scrieve.wording import by_itself, length, small, tell
from scrieve.working import Working

Action = Literal["measure again", "fit", "pull in", "plane", "make again"]

#: Fewest places where a frame is held, to be pulled to its line.
LEAST_FASTENINGS = 3

#: However uncertain the marks, this share of the tolerance is left to pull into.
_LEAST_SHARE = 0.2

#: A frame may be moved as a whole by so much, to find the wood in it [mm].
_MOVE_MM = 10.0

#: A frame that lies on its line when slid along it by no more than this is told of: its ends are seldom longer [mm].
_SLIDE_MM = 100.0

#: Places along the frame at which the linear programmes hold it.
_PLACES = 61


@dataclass(frozen=True, slots=True, eq=False)
class PullIn:
    """What it takes to pull the frame to its line at k fastenings; outward is above zero.

    Attributes
    ----------
    s_mm : ndarray (k,)
        Places of the fastenings along the line.
    forces_n, sd_n : ndarray (k,)
        On the frame, to close it to the line at every fastening, and their sd by the measuring error.
    left_mm : float
        The greatest deviation left between them then.
    least_n : float or None
        The least that the most loaded fastening can do with, for the frame to come within tolerance; None where no
        forces at these places bring it there.
    least_forces_n : ndarray (k,) or None
    moment_nmm : float
        Greatest bending moment that the least forces (or else the closing ones) put into the frame.
    limit_n : float or None
        What one fastening is allowed; None where nobody has said.
    ok : bool
        Whether `least_n` is within it; never where nobody has said.
    workings : tuple of Working
    """

    s_mm: Array
    forces_n: Array
    sd_n: Array
    left_mm: float
    least_n: float | None
    least_forces_n: Array | None
    moment_nmm: float
    limit_n: float | None
    ok: bool
    workings: tuple[Working, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Planing:
    """Whether the finished frame still lies in the wood, moved as a whole to its best place.

    `outside_mm`, `inside_mm` (m,) are the wood to come off each face along the line; `least_mm` the least of both,
    `sd_mm` its sd, at `least_s_mm` on `face`. `moved_mm` (3,) is the move: half-breadth, height, and at its end by
    turning. `ok` where it is above zero by two sd.
    """

    outside_mm: Array
    inside_mm: Array
    least_mm: float
    sd_mm: float
    least_s_mm: float
    face: Literal["outside", "inside"]
    moved_mm: Array
    ok: bool
    workings: tuple[Working, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Remedy:
    """What to do, in one word and in a sentence, and the two ways that were looked at."""

    action: Action
    text: str
    pull: PullIn | None
    planing: Planing | None

    @property
    def workings(self) -> tuple[Working, ...]:
        """Of both ways."""
        return tuple(working for way in (self.pull, self.planing) if way is not None for working in way.workings)


def pull_in(
    found: Deviation,
    fastenings_s_mm: Sequence[float],
    ei_nmm2: ArrayLike,
    limit_n: float | None,
) -> PullIn:
    """Forces at the fastenings that bend the released frame back to its line.

    Parameters
    ----------
    found : Deviation
    fastenings_s_mm : sequence of k ≥ 3 floats
        Where the frame is to be held along its line (plank fastenings, stringers, floor) [mm]; the first also holds
        it along the frame.
    ei_nmm2 : array_like, broadcast with (m,)
        Bending stiffness of the frame as it is (one half after ripping: the glued packet's × its siding / the blank's)
        [N mm²].
    limit_n : float or None
        What one fastening and the plank under it may be asked [N]: the builder's figure; None where he has not said.

    Returns
    -------
    PullIn
        Forces F_j square to the line and one along it at the first, in balance among themselves, whose bending
        M(s) = Σ F_j · (r_j - r(s)) × n_j changes the curvature by M/EI and so moves the frame by minus its deviation
        at each fastening. The least forces: linear programme, min max |F_j| with |deviation| ≤ tolerance - 2 sd
        (not less than a fifth of the tolerance) at 61 places.

    Raises
    ------
    BadMarks
        Fewer than three fastenings, off the line or at one place, or a stiffness or limit not above zero.

    References
    ----------
    .. [1] docs/glue-up.md, "Pulling in": thin curved beam, bending only (Bresse).
    """
    target = found.target
    s = _fastenings(target, fastenings_s_mm)
    stiff = np.broadcast_to(above_zero("stiffness of the frame", ei_nmm2, "N mm²", BadMarks), target.s_mm.shape)
    allowed = None if limit_n is None else float(above_zero("force allowed at a fastening", limit_n, "N", BadMarks))
    loads = _Loads(target, s, stiff)
    off, covariance = found.at(s)
    gain = loads.closing()
    forces = gain @ off
    sd = np.sqrt(np.maximum(np.einsum("ij,jk,ik->i", gain, covariance, gain), 0.0))[: len(s)]
    left = found.deviation_mm + loads.moved(forces)
    inside = (target.s_mm >= s[0]) & (target.s_mm <= s[-1])
    least = loads.least(found)
    told = forces if least is None else least
    moment = float(np.abs(loads.moments @ told[: len(s) + 1]).max())
    most = None if least is None else float(np.abs(least[: len(s)]).max())
    ok = most is not None and allowed is not None and most <= allowed
    closing = int(np.argmax(np.abs(forces[: len(s)])))
    needs = "no forces at these places do it" if most is None else f"{most:.0f} N at the most loaded fastening"
    working = Working(
        "Force to pull the frame in",
        f"{needs}; to close it fully {abs(forces[closing]):.0f} ± {sd[closing]:.0f} N",
        "M(s) = Σ F_j (r_j − r(s)) × n_j, δκ = M/EI, movement = −deviation at each fastening; ΣF = 0, ΣM = 0",
        (
            ("fastenings", tell("{n}, {first} to {last} along", n=len(s), first=length(s[0]), last=length(s[-1]))),
            ("EI of the frame", f"{float(stiff.min()):.3g} N mm²"),
            ("tolerance", by_itself(small(found.tolerance_mm))),
            ("allowed at one fastening", "not said" if allowed is None else f"{allowed:.0f} N"),
            ("greatest bending moment", f"{moment / 1000:.0f} N m"),
        ),
        "thin curved beam in bending (docs/glue-up.md); the force allowed is the builder's",
        "the plank and its fastenings hold this force for good; agree with a surveyor or naval architect",
    )
    return PullIn(
        s_mm=s,
        forces_n=forces[: len(s)],
        sd_n=sd,
        left_mm=float(np.abs(left[inside]).max()),
        least_n=most,
        least_forces_n=None if least is None else least[: len(s)],
        moment_nmm=moment,
        limit_n=allowed,
        ok=ok,
        workings=(working,),
    )


def planing(found: Deviation, outside_spare_mm: ArrayLike, inside_spare_mm: ArrayLike) -> Planing:
    """Whether the finished frame can still be planed out of the piece, and how much comes off each face.

    Parameters
    ----------
    found : Deviation
    outside_spare_mm, inside_spare_mm : array_like, broadcast with (m,)
        Wood beyond the finished frame on its outer and inner face, were the piece on its line: cleaning allowance,
        bevel wood left over, what rounding up added [mm].

    Returns
    -------
    Planing
        With the piece moved as a whole (10 mm at most each way) so that the least wood left on either face is
        greatest: linear programme, max t with outside + d + A g ≥ t and inside - d - A g ≥ t.
    """
    target = found.target
    columns = rigid_columns(target)
    over, under = (
        np.broadcast_to(np.asarray(spare, dtype=float), target.s_mm.shape)
        for spare in (outside_spare_mm, inside_spare_mm)
    )
    if not (np.isfinite(over).all() and np.isfinite(under).all()):
        raise BadMarks("wood to spare is not a finite number; give mm for both faces.")
    ones = np.ones((len(over), 1))
    rows = np.vstack([np.hstack([-columns, ones]), np.hstack([columns, ones])])
    have = np.concatenate([over + found.deviation_mm, under - found.deviation_mm])
    answer = linprog([0, 0, 0, -1], A_ub=rows, b_ub=have, bounds=[(-_MOVE_MM, _MOVE_MM)] * 3 + [(None, None)])
    if answer.x is None:
        raise BadMarks(f"planing: no place of the piece was found ({answer.message}).")
    moved: Array = answer.x[:3]
    outside, inside = over + found.deviation_mm + columns @ moved, under - found.deviation_mm - columns @ moved
    face: Literal["outside", "inside"] = "outside" if outside.min() <= inside.min() else "inside"
    wood = outside if face == "outside" else inside
    at = int(np.argmin(wood))
    least, sd = float(wood[at]), float(found.sd_mm[at])
    place = float(target.s_mm[at])
    working = Working(
        "Wood to plane to the line",
        tell(
            "{least} ± {sd} (1 sd) left at the least, on the {face}, {place} along",
            least=small(least),
            sd=small(sd),
            face=face,
            place=length(place),
        ),
        "outside: spare + d; inside: spare − d; the piece moved as a whole to where the least is greatest",
        (
            ("most off the outside", by_itself(small(outside.max()))),
            ("most off the inside", by_itself(small(inside.max()))),
            (
                "moved",
                tell(
                    "{a} out, {b} up, {c} at its end by turning",
                    a=small(moved[0]),
                    b=small(moved[1]),
                    c=small(moved[2]),
                ),
            ),
        ),
        "geometry (docs/glue-up.md)",
        "" if least > 2 * sd else "too little wood for the ±: laminations would be cut through, or a face left hollow",
    )
    return Planing(outside, inside, least, sd, place, face, moved, least - 2 * sd >= 0, (working,))


def slide_to_fit(found: Deviation) -> float | None:
    """The least slide of the frame along its line that brings it within tolerance, towards the head above zero [mm].

    Returns
    -------
    float or None
        Linear programme, min |a| with |d + a w + A g| ≤ tolerance - 2 sd (at least a fifth of the tolerance): w the
        slide, A the two other ways of moving the frame. None where 100 mm do not do it.
    """
    ways = lying(found.target)
    towards_head = 1.0 if ways.along.mean() > 0 else -1.0
    at = np.linspace(0, len(ways.slide) - 1, _PLACES).astype(int)
    columns = np.column_stack([ways.slide, -ways.slide, ways.square])[at] * [towards_head, towards_head, 1, 1]
    room = np.maximum(found.tolerance_mm - 2 * found.sd_mm, _LEAST_SHARE * found.tolerance_mm)[at]
    off = found.deviation_mm[at]
    answer = linprog(
        [1, 1, 0, 0],
        A_ub=np.vstack([columns, -columns]),
        b_ub=np.concatenate([room - off, room + off]),
        bounds=[(0, _SLIDE_MM)] * 2 + [(None, None)] * 2,
    )
    return None if answer.x is None else float(answer.x[0] - answer.x[1])


def what_to_do(found: Deviation, pull: PullIn | None = None, plane: Planing | None = None) -> Remedy:
    """Say what to do with the frame, the least work first: fit, pull in, plane, make again.

    A mark that the others contradict, marks that cannot tell, or a bend that lies elsewhere along the frame than its
    marks say, come before all: measure again.
    """
    within = small(found.tolerance_mm)
    if found.suspects:
        text = f"Mark {found.suspects[0]} from the heel is contradicted by the others: measure it again first."
        return Remedy("measure again", text, pull, plane)
    if found.astray and found.placed and found.verdict != "outside":
        text = tell(
            "Its bend lies about {by} nearer its {end} than its marks say: see whether the marks are this frame's, and "
            "those of this line, and measure again. If they are right it is bent in the wrong place: slid along itself "
            "so far it fits only if its ends are long enough, and every mark, bevel and notch on it is struck anew.",
            by=small(abs(found.slid_mm), 0),
            end="head" if found.slid_mm > 0 else "heel",
        )
        return Remedy("measure again", text, pull, plane)
    if found.verdict == "within":
        return Remedy("fit", tell("Within {t} throughout, by two sd: fit it as it is.", t=within), pull, plane)
    if pull is not None and pull.ok:
        text = tell(
            "Pull it in with the fastenings: {least} N at the most, of {limit} N allowed, brings it within {t}.",
            least=f"{pull.least_n:.0f}",
            limit=f"{pull.limit_n:.0f}",
            t=within,
        )
        return Remedy("pull in", text, pull, plane)
    if found.verdict == "doubtful":
        how = (
            "measure at more places, or more finely"
            if found.placed
            else "give the place of each along the frame, for from end to end they are not as long as its line"
        )
        text = tell("The marks cannot tell whether it is within {t}: {how}.", t=within, how=how)
        return Remedy("measure again", text, pull, plane)
    unsaid, slid = "", _told_slide(found)
    if pull is not None and pull.limit_n is None and pull.least_n is not None:
        unsaid = f" Or pull it in, where {pull.least_n:.0f} N may be asked of one fastening: say what may be."
    if plane is not None and plane.ok:
        text = tell(
            "Plane it to the line: {least} of wood is left.{unsaid}{slid}",
            least=small(plane.least_mm),
            unsaid=unsaid,
            slid=slid,
        )
        return Remedy("plane", text, pull, plane)
    if pull is None and plane is None:
        text = "Outside its tolerance: see whether the fastenings pull it in, or the wood allows planing, else re-make."
    else:
        tried = "the fastenings were not tried"
        if pull is not None:
            tried = (
                "nobody has said what a fastening may be asked" if unsaid else "more force than a fastening is allowed"
            )
        wood = "and too little wood to plane" if plane is not None else "and the wood to plane was not tried"
        text = f"Make it again: {tried}, {wood}."
    why = " Find out first why (slipped, early off the jig, factor)."
    return Remedy(
        "make again", tell("{text}{unsaid}{slid}{why}", text=text, unsaid=unsaid, slid=slid, why=why), pull, plane
    )


def _told_slide(found: Deviation) -> str:
    by = slide_to_fit(found)
    if by is None:
        return ""
    return tell(
        " Slid {by} along itself towards its {end} it lies within tolerance: its ends must be long enough, and every"
        " mark, bevel and notch on it be struck anew.",
        by=small(abs(by)),
        end="head" if by > 0 else "heel",
    )


class _Loads:
    """The frame under forces at its fastenings: k square to it, one along it at the first, and its place as a whole."""

    def __init__(self, target: Target, s: Array, stiff: Array) -> None:
        self.target, self.s = target, s
        points, normals = target.at(s, target.points_mm), target.at(s, target.outward)
        along = target.at(s[:1], target.tangent)
        self.places = np.vstack([points, points[:1]])
        self.ways = np.vstack([normals, along])
        at = np.concatenate([s, s[:1]])
        arm = self.places[None, :, :] - target.points_mm[:, None, :]
        turning = arm[:, :, 0] * self.ways[:, 1] - arm[:, :, 1] * self.ways[:, 0]
        self.moments: Array = np.where(target.s_mm[:, None] < at[None, :], turning, 0.0)
        middle = target.points_mm.mean(axis=0)
        self.reach = float(np.abs(target.points_mm - middle).max())
        spin = (target.points_mm - middle) / self.reach
        rigid = np.stack(
            [
                np.tile([1.0, 0.0], (len(spin), 1)),
                np.tile([0.0, 1.0], (len(spin), 1)),
                np.column_stack([-spin[:, 1], spin[:, 0]]),
            ],
            axis=1,
        )
        self.size = 1e3 * float(stiff.mean()) / target.length_mm**3  # forces of one mm of bend, or near it
        bent = displaced(target, self.moments / stiff[:, None]) * self.size
        self.fields = np.concatenate([bent, rigid], axis=1)  # (m, k + 1 + 3, 2)
        self.outward = outward_of(target, self.fields)

    def balance(self) -> Array:
        """(3, k + 4) rows that must come to nothing: forces each way, and their turning."""
        arm = self.places - self.target.points_mm.mean(axis=0)
        turning = (arm[:, 0] * self.ways[:, 1] - arm[:, 1] * self.ways[:, 0]) / self.reach
        return np.hstack([np.vstack([self.ways.T, turning]), np.zeros((3, 3))])

    def anchor(self) -> Array:
        """(1, k + 4): movement along the frame at the first fastening."""
        field = self.target.at(self.s[:1], self.fields)[0]
        row: Array = (field @ self.ways[-1])[None, :]
        return row

    def closing(self) -> Array:
        """(k + 4, k): loads for each mm of deviation at each fastening; forces in N, the last three the place."""
        k = len(self.s)
        rows = np.vstack([self.target.at(self.s, self.outward), self.anchor(), self.balance()])
        wanted = np.vstack([-np.eye(k), np.zeros((4, k))])
        if np.linalg.cond(rows) > 1e10:
            raise BadMarks("fastenings at these places cannot hold the frame; spread them along it, or give more.")
        found = np.linalg.solve(rows, wanted)
        found[: k + 1] *= self.size
        return np.asarray(found)

    def moved(self, loads: Array) -> Array:
        """(m,) outward movement under the loads of `closing` or `least` [mm]."""
        scaled = loads.copy()
        scaled[: len(self.s) + 1] /= self.size
        return np.asarray(self.outward @ scaled)

    def least(self, found: Deviation) -> Array | None:
        """(k + 4,) loads whose greatest force is least while the frame comes within tolerance; None if none do."""
        k = len(self.s)
        line = self.target.s_mm
        at = np.linspace(line[0], line[-1], _PLACES)
        moved = self.target.at(at, self.outward)
        off, sd = self.target.at(at, found.deviation_mm), self.target.at(at, found.sd_mm)
        room = np.maximum(found.tolerance_mm - 2 * sd, _LEAST_SHARE * found.tolerance_mm)
        nothing = np.zeros((_PLACES, 1))
        held = np.hstack([np.eye(k), np.zeros((k, 4))])
        top = -np.ones((k, 1))
        answer = linprog(
            np.concatenate([np.zeros(k + 4), [1.0]]),
            A_ub=np.vstack(
                [
                    np.hstack([moved, nothing]),
                    np.hstack([-moved, nothing]),
                    np.hstack([held, top]),
                    np.hstack([-held, top]),
                ]
            ),
            b_ub=np.concatenate([room - off, room + off, np.zeros(2 * k)]),
            A_eq=np.hstack([np.vstack([self.anchor(), self.balance()]), np.zeros((4, 1))]),
            b_eq=np.zeros(4),
            bounds=[(None, None)] * (k + 4) + [(0, None)],
        )
        if answer.x is None:
            return None
        loads: Array = answer.x[: k + 4].copy()
        loads[: k + 1] *= self.size
        return loads


def _fastenings(target: Target, given: Sequence[float]) -> Array:
    s = np.sort(np.asarray(given, dtype=float))
    if s.ndim != 1 or len(s) < LEAST_FASTENINGS or not np.isfinite(s).all():
        raise BadMarks(f"{s.size} fastenings; give the places of {LEAST_FASTENINGS} or more along the frame [mm].")
    if np.any(np.diff(s) < 1):
        raise BadMarks("two fastenings at one place; give each place once.")
    if s[0] < target.s_mm[0] - 1 or s[-1] > target.s_mm[-1] + 1:
        raise BadMarks(
            f"fastenings from {s[0]:.0f} to {s[-1]:.0f} mm; the frame runs from {target.s_mm[0]:.0f} to "
            f"{target.s_mm[-1]:.0f} mm."
        )
    return np.asarray(np.clip(s, target.s_mm[0], target.s_mm[-1]))

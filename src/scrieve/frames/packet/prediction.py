"""The shape that a frame will have: as it comes off the jig, and after cleaning, tapering and bevelling, with its ±."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scrieve.frames.choice import FrameChoice
from scrieve.frames.packet.bending import Bent
from scrieve.frames.packet.laminations import Lay
from scrieve.frames.packet.springback import let_go
from scrieve.frames.packet.stress import Movement, movement
from scrieve.frames.parts import Array, Outline
from scrieve.frames.shape.line import Line, offset
from scrieve.wording import by_itself, small, tell
from scrieve.working import Check, Working

#: One standard deviation of the learnt factor before any release has been measured: shop default, no source.
UNLEARNT_SD = 0.15

#: Past this the move on cleaning off is worth allowing for in the jig: shop default, no source.
WORTH_MM = 1.0

#: The section is worked out at every so many points of the line, and read between them.
_EVERY = 10


@dataclass(frozen=True, slots=True, eq=False)
class Prediction:
    """The moulded line of a frame off the jig and finished, each laid on the line wanted as best it fits.

    `s_mm` (m,) are places along the moulded line. `off_jig_mm` and `finished_mm` (m, 2) are half-breadth and height;
    `off_jig_out_mm` and `finished_out_mm` (m,) how far each lies outside the line wanted, square to it. `sd_mm` (m,)
    is one standard deviation of either, from the learnt factor's. `sideways_mm` (m,) is the bow out of the frame's
    plane once bevelled, from the chord, above zero towards the far face.
    `share_lost` and `share_later` (m,) are shares of the jig's curvature, lost on release and gained on cleaning off.
    """

    s_mm: Array
    off_jig_mm: Array
    off_jig_out_mm: Array
    finished_mm: Array
    finished_out_mm: Array
    sd_mm: Array
    sideways_mm: Array
    factor: float
    factor_sd: float
    share_lost: Array
    share_later: Array
    allowed_for: bool

    @property
    def later_mm(self) -> float:
        """The most by which the frame moves between release and the finished frame [mm]."""
        return float(np.abs(self.finished_out_mm - self.off_jig_out_mm).max())


def finished_movement(line: Line, found: Lay, outline: Outline, choice: FrameChoice) -> Movement:
    """How each half moves when the finished section is worked out of the packet, at each point of the moulded line.

    The outline is that of the moulded line, unthinned. The curvature in the jig is taken as if nothing were cleaned
    off; what allowing for that changes in it changes the movement by a few thousandths.
    """
    pick = np.unique(np.append(np.arange(0, len(line.s_mm), _EVERY), len(line.s_mm) - 1))
    along = found.along(line.s_mm[pick])
    moulded_line = line.curvature_per_mm[pick]
    wanted = moulded_line / (1 - moulded_line * (along.neutral_mm - found.outside_mm))
    c = choice.spring_factor
    slope = outline.shift_mm[pick] / choice.sided_mm
    coarse = movement(
        along,
        (wanted - c * along.given) / np.maximum(1 - c * along.share, 0.1),
        np.full(len(pick), found.outside_mm),
        outline.moulded_mm[pick],
        slope,
        choice.sided_mm,
        c,
    )
    return Movement(*(np.interp(line.s_mm, line.s_mm[pick], getattr(coarse, name)) for name in Movement.__slots__))


def predict(
    line: Line, found: Lay, choice: FrameChoice, bent: Bent, moves: Movement, factor_sd: float = UNLEARNT_SD
) -> Prediction:
    """Release the packet from its jig and work the frame out of it.

    Parameters
    ----------
    line, found, choice, bent
        The moulded line, the stack, what was settled, and the packet in the jig.
    moves : Movement
        Of the finished section, at the points of the moulded line.
    factor_sd : float
        One standard deviation of the learnt factor: the ± of the shape comes from it.

    References
    ----------
    .. [1] docs/frames.md, "Prediction".
    """
    reference, along = bent.reference, bent.along
    assert reference is not None
    assert along is not None
    girth, c = bent.girth_mm, choice.spring_factor
    from_outer = found.depth_mm - found.neutral_mm
    away = along.neutral_mm - from_outer
    out = from_outer - found.outside_mm  # from the reference line out to the moulded line
    here = Movement(*(np.interp(girth, line.s_mm, getattr(moves, name)) for name in Movement.__slots__))
    kept = (girth >= line.s_mm[0] - 1e-9) & (girth <= line.s_mm[-1] + 1e-9)
    kappa = bent.neutral.curvature_per_mm

    loss, set_before = along.loss(kappa)

    def shape(factor: float, worked: float) -> Array:
        lost = factor * loss - worked * here.share
        back = factor * set_before + worked * here.given
        freed = let_go(reference, away, lost, back, worked * here.stretched(kappa))
        return np.asarray(offset(freed, -out, "the moulded line").points_mm[kept])

    wanted = line.points_mm
    off, done = _laid_on(shape(c, 0.0), wanted), _laid_on(shape(c, 1.0), wanted)
    more = _laid_on(shape(c + factor_sd, 0.0), off)
    right = -line.left
    thin = np.unique(np.append(np.arange(0, len(wanted), 4), len(wanted) - 1))
    side = moves.sideways(kappa[kept])
    return Prediction(
        s_mm=line.s_mm[thin],
        off_jig_mm=off[thin],
        off_jig_out_mm=((off - wanted) * right).sum(axis=1)[thin],
        finished_mm=done[thin],
        finished_out_mm=((done - wanted) * right).sum(axis=1)[thin],
        sd_mm=np.abs(((more - off) * right).sum(axis=1))[thin],
        sideways_mm=_bow(line.s_mm, side)[thin],
        factor=c,
        factor_sd=factor_sd,
        share_lost=(c * loss)[kept][thin],
        share_later=moves.share[thin],
        allowed_for=choice.allow_for_cleaning,
    )


def movement_check(seen: Prediction) -> Check:
    """Whether what cleaning off does to the shape is small, or allowed for."""
    worst = float(np.abs(seen.finished_out_mm).max())
    return Check(
        "Shape once cleaned off and bevelled",
        tell(
            "{off} off the line wanted at most, {moved} of move after release {allowed} for in the jig",
            off=small(worst, limit=WORTH_MM),
            moved=small(seen.later_mm),
            allowed="allowed" if seen.allowed_for else "not allowed",
        ),
        by_itself(small(WORTH_MM, None)),
        worst <= WORTH_MM,
        "elastic theory of locked-in stress (docs/frames.md); limit: shop default, no source",
        "" if worst <= WORTH_MM else "allow for cleaning off in the jig, clean off less, or take thinner laminations",
    )


def prediction_working(seen: Prediction) -> Working:
    """How the move on cleaning off came about."""
    lost, later = float(seen.share_lost.mean()), float(seen.share_later.mean())
    return Working(
        "Move on cleaning off",
        tell("{share:+.2f} % of the jig's curvature, {m}", share=100 * later, m=small(seen.later_mm)),
        "what is left must balance: ∫(σ + E (e + a u + b z)) (1, u, z) dA = 0; the curvature grows by -a",
        (
            ("lost on release, mean", f"{100 * lost:.2f} %"),
            ("gained on cleaning off, mean", f"{100 * later:+.2f} %"),
            ("sideways bow once bevelled", by_itself(small(float(np.abs(seen.sideways_mm).max())))),
            (
                f"± of the shape (1 sd of c = {seen.factor_sd:.2f})",
                tell("{m} at most", m=small(float(seen.sd_mm.max()))),
            ),
            ("allowed for in the jig", "yes" if seen.allowed_for else "no"),
        ),
        "elastic theory of locked-in stress, held against finite elements (docs/frames.md)",
        "timber creeps, and loses some of this stress with time: an estimate; measure the first frame off the jig and "
        "again once it is cleaned off",
    )


def _laid_on(points: Array, wanted: Array) -> Array:
    """The points turned and shifted to lie on those wanted, least squares."""
    middle, aim = points.mean(axis=0), wanted.mean(axis=0)
    u, _, vt = np.linalg.svd((points - middle).T @ (wanted - aim))
    turn = u @ np.diag([1.0, np.sign(np.linalg.det(u @ vt))]) @ vt
    return np.asarray((points - middle) @ turn + aim)


def _bow(s: Array, curvature: Array) -> Array:
    """Departure from the chord of a line of small curvature, above zero on its round side."""
    step = np.diff(s)
    slope = np.concatenate([[0.0], np.cumsum(step * (curvature[1:] + curvature[:-1]) / 2)])
    rise = np.concatenate([[0.0], np.cumsum(step * (slope[1:] + slope[:-1]) / 2)])
    return np.asarray((s - s[0]) / (s[-1] - s[0]) * rise[-1] - rise)

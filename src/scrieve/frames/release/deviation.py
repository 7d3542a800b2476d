"""After release: how far the frame stands off its line along its length, with ±, and what to do about it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.polynomial import legendre
from numpy.typing import ArrayLike

from scrieve.errors import BadMarks, above_zero
from scrieve.frames.release.measured import ALONG_MM, Offsets, rigid_at
from scrieve.frames.shape.displacement import Array, Target, displaced, laid, lying
from scrieve.wording import by_itself, length, small, tell
from scrieve.working import Working

Verdict = Literal["within", "doubtful", "outside"]

#: What a pair of frames is to keep to: shop default, common practice, no source [mm].
TOLERANCE_MM = 2.0

#: A mark that stands further than this from what the others say is named.
SUSPECT = 3.5

#: A frame whose bend lies further along it than so many sd of its marks' own places is said to be astray.
_ASTRAY = 2.0

#: Ways in which a frame may have changed its bend: Legendre polynomials of the change of curvature along it.
_MODES = 8
#: Sizes to believe of the deviation [mm RMS], each as likely as the next.
_SIZES_MM = np.geomspace(0.03, 100.0, 33)


@dataclass(frozen=True, slots=True, eq=False)
class Deviation:
    """How far the frame stands off its line, laid on it as well as it goes; outward is above zero.

    Attributes
    ----------
    target : Target
        The line it ought to have, m points.
    deviation_mm, sd_mm : ndarray (m,)
        Best estimate and its standard deviation at each point of the line.
    measured_s_mm, measured_mm : ndarray (n,)
        The marks themselves, in the same pose.
    worst_mm, worst_s_mm, worst_sd_mm : float
        The greatest deviation, where, and its sd.
    tolerance_mm : float
    verdict : 'within', 'outside' or 'doubtful'
        Two sd inside the tolerance throughout; two sd outside it somewhere; or the marks cannot tell.
    suspects : tuple of int
        Marks, counted from 1 at the heel, that the others contradict: measure them again.
    misfit : float
        RMS of what the marks leave over, over what their stated error allows: near 1, or a little less.
    placed : bool
        Whether it is known where along its line the frame lies; if not, the marks want their places.
    slid_mm : float
        How much nearer the head its bend lies than its marks say, below zero nearer the heel; a frame of even bend
        does not tell, and lies at 0.
    astray : bool
        Whether that is more than the marks' own places explain: such a frame is not called within its tolerance.
    workings : tuple of Working
    """

    target: Target
    deviation_mm: Array
    sd_mm: Array
    measured_s_mm: Array
    measured_mm: Array
    worst_mm: float
    worst_s_mm: float
    worst_sd_mm: float
    tolerance_mm: float
    verdict: Verdict
    suspects: tuple[int, ...]
    misfit: float
    placed: bool
    slid_mm: float
    astray: bool
    workings: tuple[Working, ...]
    _field: Array
    _mean: Array
    _covariance: Array

    def at(self, s_mm: ArrayLike) -> tuple[Array, Array]:
        """Deviation at places along the line [mm], and its covariance [mm²]: (k,) and (k, k)."""
        rows = self.target.at(np.atleast_1d(np.asarray(s_mm, dtype=float)), self._field)
        return rows @ self._mean, rows @ self._covariance @ rows.T

    def drawn(self, scale: float = 20.0) -> Array:
        """(m, 2) the frame's line with its deviation enlarged, to be drawn beside `target.points_mm`."""
        return np.asarray(self.target.points_mm + scale * self.deviation_mm[:, None] * self.target.outward)

    def band(self, scale: float = 20.0, times: float = 2.0) -> tuple[Array, Array]:
        """(m, 2) twice: the edges of ± `times` sd about `drawn`."""
        reach = times * self.sd_mm
        return tuple(  # type: ignore[return-value]
            self.target.points_mm + scale * (self.deviation_mm + side * reach)[:, None] * self.target.outward
            for side in (-1, 1)
        )


def deviation(target: Target, offsets: Offsets, *, tolerance_mm: float = TOLERANCE_MM) -> Deviation:
    """Find the frame's deviation from its line out of marks with error.

    Parameters
    ----------
    target : Target
        The line it ought to have, m points: the line that was measured.
    offsets : Offsets
        Of `measured_points` or `measured_offsets`.
    tolerance_mm : float
        What is allowed either way.

    Returns
    -------
    Deviation
        d = A g + B a + ε: A the two ways of moving the frame as a whole of which nothing is known; B its movement
        where the curvature changes by each of eight Legendre polynomials, a_k ~ N(0, τ²/(k+1)⁴) mm RMS, summed over
        sizes τ; ε ~ N(0, measuring covariance, how far the frame may have slid included). Shown with the frame laid on
        its line: not slid along it, and past the best fit in the two other ways.

    Raises
    ------
    BadMarks
        The tolerance is not above zero.

    References
    ----------
    .. [1] docs/glue-up.md, "Deviation": Bayesian linear model, the frame's place projected out.
    """
    allowed = float(above_zero("tolerance", tolerance_mm, "mm", BadMarks))
    field = _modes(target)
    b, rigid = target.at(offsets.s_mm, field), rigid_at(target, offsets)
    root = np.linalg.inv(np.linalg.cholesky(offsets.covariance_mm2))
    free = _complement(root @ rigid)
    rows, seen = free.T @ root @ b, free.T @ root @ offsets.offset_mm
    mean, covariance = _posterior(rows, seen)
    left = seen - rows @ mean
    found, sd = field @ mean, np.sqrt(np.maximum(np.einsum("ij,jk,ik->i", field, covariance, field), 0.0))
    worst = int(np.argmax(np.abs(found)))
    reach = np.abs(found)
    verdict: Verdict = "doubtful"
    if np.all(reach + 2 * sd <= allowed):
        verdict = "within"
    elif np.any(reach - 2 * sd > allowed):
        verdict = "outside"
    in_pose = offsets.offset_mm - rigid @ _rigid_of(root @ rigid, root @ (offsets.offset_mm - b @ mean))
    misfit = float(np.sqrt(np.mean(left**2)))
    suspects = _suspects(offsets, b, rigid)
    slide = offsets.along_sd_mm * target.at(offsets.s_mm, lying(target).slide)
    slid = offsets.along_sd_mm * float((root @ slide) @ (root @ (in_pose - b @ mean)))
    astray = abs(slid) > _ASTRAY * offsets.along_sd_mm
    if astray and verdict == "within":
        verdict = "doubtful"
    place, most, most_sd = float(target.s_mm[worst]), float(found[worst]), float(sd[worst])
    return Deviation(
        target=target,
        deviation_mm=found,
        sd_mm=sd,
        measured_s_mm=offsets.s_mm,
        measured_mm=in_pose,
        worst_mm=most,
        worst_s_mm=place,
        worst_sd_mm=most_sd,
        tolerance_mm=allowed,
        verdict=verdict,
        suspects=suspects,
        misfit=misfit,
        placed=offsets.along_sd_mm <= 2 * ALONG_MM,
        slid_mm=slid,
        astray=astray,
        workings=_workings(offsets, most, most_sd, place, allowed, verdict, suspects, misfit),
        _field=field,
        _mean=mean,
        _covariance=covariance,
    )


def change_between(before: Deviation, after: Deviation) -> tuple[Array, Array]:
    """What ripping (or a night) did to the frame: change of deviation and its sd along the line, (m,) each [mm].

    Both are of the frame laid on its line, so the change is too; their errors are independent.

    Raises
    ------
    BadMarks
        The two were compared with different lines.
    """
    same = before.target.s_mm.shape == after.target.s_mm.shape and np.allclose(
        before.target.points_mm, after.target.points_mm, atol=1e-6
    )
    if not same:
        raise BadMarks("the two measurements are of different lines (inner face and outer?); compare like with like.")
    return after.deviation_mm - before.deviation_mm, np.hypot(before.sd_mm, after.sd_mm)


def _modes(target: Target) -> Array:
    """(m, k) movement for each change of bend, past a rigid fit over the line, one mm RMS each, less by (k+1)²."""
    along = 2 * (target.s_mm - target.s_mm[0]) / target.length_mm - 1
    field = laid(target, displaced(target, legendre.legvander(along, _MODES - 1)))
    weight = np.gradient(target.s_mm)
    size = np.sqrt((field**2 * weight[:, None]).sum(axis=0) / weight.sum())
    return np.asarray(field / size / np.arange(1, _MODES + 1) ** 2)


def _complement(columns: Array) -> Array:
    """(n, n - k) orthonormal basis of all that the columns do not explain."""
    return np.linalg.svd(columns, full_matrices=True)[0][:, columns.shape[1] :]


def _rigid_of(columns: Array, seen: Array) -> Array:
    return np.asarray(np.linalg.lstsq(columns, seen, rcond=None)[0])


def _posterior(rows: Array, seen: Array) -> tuple[Array, Array]:
    """Mean and covariance of the modes, summed over the sizes; the noise is white of sd 1."""
    u, size, vt = np.linalg.svd(rows, full_matrices=False)
    y = u.T @ seen
    tau = _SIZES_MM[:, None]
    spread = 1 + (tau * size) ** 2
    log = -0.5 * np.sum(y**2 / spread + np.log(spread), axis=1)
    chance = np.exp(log - log.max())
    chance /= chance.sum()
    each = tau**2 * size / spread * y
    mean = chance @ each
    off = each - mean
    seen_part = (off.T * chance) @ off + np.diag(chance @ (tau**2 / spread))
    idle = np.eye(vt.shape[1]) - vt.T @ vt
    return mean @ vt, vt.T @ seen_part @ vt + float(chance @ _SIZES_MM**2) * idle


def _suspects(offsets: Offsets, b: Array, rigid: Array) -> tuple[int, ...]:
    """Marks that stand past 3.5 predictive sd from what the rest of them say (each taken out in turn)."""
    n = len(offsets.s_mm)
    if n < 7:
        return ()
    found = []
    for out in range(n):
        rest = np.delete(np.arange(n), out)
        root = np.linalg.inv(np.linalg.cholesky(offsets.covariance_mm2[np.ix_(rest, rest)]))
        free = _complement(root @ rigid[rest])
        mean, covariance = _posterior(free.T @ root @ b[rest], free.T @ root @ offsets.offset_mm[rest])
        # the pose comes from the rest too: g = (RᵀR)⁻¹ Rᵀ (d - b a), and so do its errors
        pose = np.linalg.pinv(root @ rigid[rest])
        # and its own error goes with theirs where the frame may have slid
        shared = root.T @ root @ offsets.covariance_mm2[rest, out]
        b_out, rigid_out, offset = (values[out] - shared @ values[rest] for values in (b, rigid, offsets.offset_mm))
        by_pose = rigid_out @ pose
        by_modes = b_out - by_pose @ root @ b[rest]
        expected = by_modes @ mean + by_pose @ root @ offsets.offset_mm[rest]
        own = offsets.covariance_mm2[out, out] - shared @ offsets.covariance_mm2[rest, out]
        off = abs(offset - expected) / np.sqrt(by_modes @ covariance @ by_modes + by_pose @ by_pose + own)
        if off > SUSPECT:
            found.append((off, out + 1))
    if not found:
        return ()
    return (max(found)[1],)  # one at a time: a wild mark makes its neighbours look wrong


def _workings(
    offsets: Offsets,
    most: float,
    sd: float,
    place: float,
    allowed: float,
    verdict: Verdict,
    suspects: tuple[int, ...],
    misfit: float,
) -> tuple[Working, ...]:
    caution = {
        "within": "",
        "doubtful": "the marks cannot tell: "
        + (
            "measure more places, or more finely"
            if offsets.along_sd_mm <= 2 * ALONG_MM
            else "give the place of each along the frame: from end to end they are not as long as its line"
        ),
        "outside": "see what to do; agree with a surveyor or naval architect where strength is touched",
    }[verdict]
    if suspects:
        caution = f"mark {suspects[0]} from the heel is contradicted by the others: measure it again. {caution}".strip()
    if misfit > 1.6:
        caution = f"the marks scatter {misfit:.1f} times as far as their stated error. {caution}".strip()
    return (
        Working(
            "Greatest deviation",
            tell(
                "{most} {way} ± {sd} (1 sd), {place} along",
                most=small(abs(most), limit=allowed),
                way="outward" if most > 0 else "inward",
                sd=small(sd),
                place=length(place),
            ),
            "d = A g + B a + ε; g how the frame lies, a how its bend has changed; laid on its line, not slid along it",
            (
                ("marks", tell("{n}, error {sigma} each", n=len(offsets.s_mm), sigma=small(offsets.sigma_mm.mean()))),
                ("place along its line", tell("± {along} (1 sd)", along=small(offsets.along_sd_mm))),
                ("tolerance", by_itself(small(allowed))),
                ("verdict", f"{verdict}: two sd against the tolerance"),
            ),
            "least squares with the frame's place projected out (docs/glue-up.md); tolerance: shop default, no source",
            caution,
        ),
    )

"""Learning: the factor on computed springback, by timber and family of glue, from every frame that was measured."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from scrieve.errors import BadMarks
from scrieve.frames.release.measured import Offsets, rigid_at
from scrieve.frames.shape.displacement import Array, Target, displaced, laid, unslid, without_rigid
from scrieve.wording import by_itself, small, tell
from scrieve.working import Working

#: Past this many standard deviations a frame's own factor cannot come from its shape changing as springback does.
MISFIT_LIMIT = 3.0

#: A frame that is more likely botched than not is named.
_SUSPECT = 0.5

_FIRST, _POINTS, _ZOOMS = 201, 81, 6
_TAIL = 14.0


@dataclass(frozen=True, slots=True)
class Prior:
    """What is believed before a frame has been measured. All are our own defaults, no source; change them to suit.

    `mean` and `sd` are of the factor c. `scatter` is the frame-to-frame scatter q, where it is stated; else q is
    found, from a half-normal prior of scale `scatter_scale`, with `steady_share` that there is none at all: this keeps
    the stated ± of c honest with and without scatter (docs/glue-up.md). `botched_share` of frames go wrong, and their
    own factor may then be anywhere within `botched_sd` (one standard deviation) of c.
    """

    mean: float = 1.0
    sd: float = 0.15
    scatter: float | None = None
    scatter_scale: float = 0.08
    steady_share: float = 0.4
    botched_share: float = 0.03
    botched_sd: float = 0.6

    def __post_init__(self) -> None:
        spread = (self.sd, self.scatter_scale, self.botched_sd, self.mean)
        if not all(np.isfinite(value) and value > 0 for value in spread):
            raise BadMarks(f"prior: found {spread}; mean, sd and scales are to be above zero.")
        if self.scatter is not None and not 0 <= self.scatter < 1:
            raise BadMarks(f"prior: scatter {self.scatter:g}; give 0 to below 1, or leave it to be found.")
        if not 0 <= self.steady_share < 1:
            raise BadMarks(f"prior: steady share {self.steady_share:g}; give 0 to below 1.")
        if not 0 <= self.botched_share < 0.5:
            raise BadMarks(f"prior: botched share {self.botched_share:g}; give 0 to below 0.5.")


@dataclass(frozen=True, slots=True)
class Spring:
    """What one released frame says of the factor.

    Attributes
    ----------
    frame, timber, glue : str
        Label; timber or timbers as named in the packet ('sapele/larch'); family of glue.
    factor, sd : float
        This frame's own factor and its standard deviation by the measuring error alone [-].
    springback_mm : float
        Computed springback of this frame past a rigid fit, RMS over the measured places [mm]: what the factor is of.
    misfit : float
        How far the rest of the deviation stands past the measuring error, in standard deviations: above 3 the frame
        differs from its line by more than springback (slipped in the jig, a bracket wrong).
    """

    frame: str
    timber: str
    glue: str
    factor: float
    sd: float
    springback_mm: float
    misfit: float = 0.0

    def __post_init__(self) -> None:
        if not (np.isfinite(self.factor) and np.isfinite(self.sd) and self.sd > 0):
            raise BadMarks(f"frame {self.frame}: factor {self.factor:g} ± {self.sd:g} is of no use; measure it again.")


@dataclass(frozen=True, slots=True)
class Learnt:
    """The factor learnt for one timber and family of glue.

    Attributes
    ----------
    timber, glue : str
    factor, sd : float
        c and its standard deviation.
    scatter, scatter_sd : float
        q, from frame to frame, as found or stated (then its sd is 0).
    next_sd : float
        Standard deviation of the next frame's own factor: √(sd² + q²).
    frames : tuple of str
        Labels, as given.
    weights : tuple of float
        Share of each frame in what was learnt, summing to 1.
    botched : tuple of float
        Probability that each went wrong.
    suspects : tuple of str
        Those more likely botched than not: look at them; they hardly move the factor.
    workings : tuple of Working
    """

    timber: str
    glue: str
    factor: float
    sd: float
    scatter: float
    scatter_sd: float
    frames: tuple[str, ...]
    weights: tuple[float, ...]
    botched: tuple[float, ...]
    suspects: tuple[str, ...]
    workings: tuple[Working, ...]

    @property
    def next_sd(self) -> float:
        """Standard deviation of the next frame's own factor."""
        return float(np.hypot(self.sd, self.scatter))


@dataclass(frozen=True, slots=True, eq=False)
class NextJig:
    """What a learnt factor means at one frame: outward millimetres along its line, m places.

    `change_mm` is how the released frame would stand off its line if the jig kept the factor used before; `sd_mm` what
    is still uncertain with the learnt one. `greatest_change_mm` and `greatest_sd_mm` are the largest of each.
    """

    s_mm: Array
    change_mm: Array
    sd_mm: Array
    greatest_change_mm: float
    greatest_sd_mm: float
    workings: tuple[Working, ...]


def springback_field(target: Target, lost_per_mm: ArrayLike) -> Array:
    """Outward movement on release by the computed springback, c = 1, the frame laid on its line: (m,) [mm].

    Parameters
    ----------
    target : Target
        The line measured, m points.
    lost_per_mm : array_like, broadcast with (m,)
        Curvature that theory loses on release, without any factor [1/mm]: r κ_jig for straight stock.
    """
    return laid(target, _released(target, lost_per_mm))


def read_spring(
    target: Target,
    offsets: Offsets,
    lost_per_mm: ArrayLike,
    *,
    factor_used: float = 1.0,
    frame: str = "",
    timber: str = "",
    glue: str = "",
) -> Spring:
    """Read one released frame's own factor off its deviation from the line that it ought to have.

    Parameters
    ----------
    target : Target
        The line measured, m points.
    offsets : Offsets
        How far the frame stands off it, as measured right off the jig.
    lost_per_mm : array_like, broadcast with (m,)
        Curvature that theory loses on release, without any factor [1/mm]: r κ_jig for straight stock.
    factor_used : float
        The factor that the jig was set with.

    Returns
    -------
    Spring
        c = c_used + (uᵀWd)/(uᵀWu), sd = 1/√(uᵀWu), with u the movement for c = 1 and d the offsets, both past a rigid
        fit, and W the inverse of the measuring covariance: a frame with little springback says little. Where the rest
        of the deviation is past the measuring error (misfit above 3), sd is widened by the ratio of the two.

    Raises
    ------
    BadMarks
        The frame has no springback to speak of.

    References
    ----------
    .. [1] docs/glue-up.md, "Learning": generalised least squares with the frame's place projected out.
    """
    root = np.linalg.inv(np.linalg.cholesky(offsets.covariance_mm2))
    rigid = root @ rigid_at(target, offsets)
    released = target.at(offsets.s_mm, unslid(target, _released(target, lost_per_mm)))
    u = root @ released
    d = root @ offsets.offset_mm
    u, d = without_rigid(rigid, u), without_rigid(rigid, d)
    power = float(u @ u)
    if power < 1e-6:
        raise BadMarks(f"frame {frame or '(no label)'}: it is computed not to spring at all; nothing to learn from it.")
    found = float(u @ d) / power
    freedom = len(d) - 3
    left = float(np.sum((d - found * u) ** 2))
    misfit = (left - freedom) / np.sqrt(2 * freedom) if freedom > 0 else 0.0
    sd = power**-0.5 * (float(np.sqrt(left / freedom)) if misfit > MISFIT_LIMIT else 1.0)
    size = float(np.sqrt(np.mean(without_rigid(rigid_at(target, offsets), released) ** 2)))
    return Spring(frame, timber, glue, factor_used + found, sd, size, float(misfit))


def learn(springs: Sequence[Spring], prior: Prior | None = None) -> Learnt:
    """Learn the factor from the frames of one timber and family of glue.

    Parameters
    ----------
    springs : sequence of Spring
        May be empty: what is learnt is then the prior.
    prior : Prior, optional

    Returns
    -------
    Learnt
        Mean and sd of c under: c ~ N(mean, sd²); each frame's own factor c_f ~ N(c, q²), or N(c, q² + botched_sd²)
        in a botched share of frames; read with its own sd. With q stated and no botched share that is the conjugate
        update, weights 1/(sd_f² + q²); else c and q are summed on a fine grid.

    Raises
    ------
    BadMarks
        Frames of different timbers or glues are mixed.

    References
    ----------
    .. [1] docs/glue-up.md, "Learning": normal hierarchical model with a contaminated normal for botched frames.

    Examples
    --------
    >>> found = learn([Spring("14", "larch", "epoxy", 1.2, 0.05, 6.0)], Prior(scatter=0.0, botched_share=0.0))
    >>> round(found.factor, 3), round(found.sd, 4)  # (1/0.15² + 1.2/0.05²) / (1/0.15² + 1/0.05²)
    (1.18, 0.0474)
    """
    believed = prior or Prior()
    groups = {(each.timber, each.glue) for each in springs}
    if len(groups) > 1:
        raise BadMarks(f"frames of {len(groups)} timbers or glues together; learn each by itself.")
    timber, glue = groups.pop() if groups else ("", "")
    y, s = np.array([each.factor for each in springs]), np.array([each.sd for each in springs])
    q, q_weight = _scatters(believed)
    c, chance, wrong = _posterior(y, s, q, q_weight, believed)
    of_c, of_q = chance.sum(axis=1), chance.sum(axis=0)
    mean, scatter = float(of_c @ c), float(of_q @ q)
    sd = float(np.sqrt(max(of_c @ (c - mean) ** 2, 0.0)))
    scatter_sd = float(np.sqrt(max(of_q @ (q - scatter) ** 2, 0.0)))
    weight = (1 - wrong) / (s**2 + scatter**2) + wrong / (s**2 + scatter**2 + believed.botched_sd**2)
    shares = weight / weight.sum() if len(weight) else weight
    frames = tuple(each.frame for each in springs)
    suspects = tuple(
        each.frame for each, bad in zip(springs, wrong, strict=True) if bad > _SUSPECT or each.misfit > MISFIT_LIMIT
    )
    return Learnt(
        timber=timber,
        glue=glue,
        factor=mean,
        sd=sd,
        scatter=scatter,
        scatter_sd=scatter_sd,
        frames=frames,
        weights=tuple(float(value) for value in shares),
        botched=tuple(float(value) for value in wrong),
        suspects=suspects,
        workings=_workings(springs, believed, mean, sd, scatter, scatter_sd, suspects),
    )


def learn_all(
    springs: Sequence[Spring], priors: Mapping[tuple[str, str], Prior] | None = None
) -> dict[tuple[str, str], Learnt]:
    """Learn the factor of every timber and family of glue by itself; keys are (timber, glue), in order of first use."""
    groups: dict[tuple[str, str], list[Spring]] = {}
    for each in springs:
        groups.setdefault((each.timber, each.glue), []).append(each)
    return {key: learn(mine, (priors or {}).get(key)) for key, mine in groups.items()}


def for_next_jig(
    target: Target,
    lost_per_mm: ArrayLike,
    learnt: Learnt,
    *,
    factor_used: float = 1.0,
) -> NextJig:
    """What the learnt factor means at one frame, in millimetres.

    Parameters
    ----------
    target : Target
    lost_per_mm : array_like, broadcast with (m,)
        Curvature that theory loses on release, without any factor [1/mm]: r κ_jig for straight stock.
    learnt : Learnt
    factor_used : float
        The factor that the jig would otherwise be set with.
    """
    u = springback_field(target, lost_per_mm)
    change, sd = (learnt.factor - factor_used) * u, learnt.next_sd * np.abs(u)
    most, left = float(np.abs(change).max()), float(sd.max())
    size = float(np.abs(u).max())
    working = Working(
        "What the learnt factor means here",
        tell("{most} at the most, ± {left} (1 sd) still open", most=small(most), left=small(left)),
        "(c − c_used) u; ± √(sd² + q²) |u|; u the computed springback past a rigid fit",
        (
            ("c", f"{learnt.factor:.3f} ± {learnt.sd:.3f}"),
            ("q", f"{learnt.scatter:.3f}"),
            ("c_used", f"{factor_used:.3f}"),
            ("greatest u", by_itself(small(size))),
        ),
        "docs/glue-up.md, Learning",
    )
    return NextJig(target.s_mm, change, sd, most, left, (working,))


def _released(target: Target, lost_per_mm: ArrayLike) -> Array:
    lost = np.asarray(lost_per_mm, dtype=float)
    return displaced(target, -np.broadcast_to(lost, target.s_mm.shape))


def _scatters(prior: Prior) -> tuple[Array, Array]:
    """Scatters to sum over and their prior weights."""
    if prior.scatter is not None:
        return np.array([prior.scatter]), np.ones(1)
    q = 4 * prior.scatter_scale * np.linspace(0, 1, 19) ** 1.5
    width = np.gradient(q)
    weight = np.exp(-0.5 * (q / prior.scatter_scale) ** 2) * width
    weight *= (1 - prior.steady_share) / weight.sum()
    weight[0] += prior.steady_share
    return q, weight


def _posterior(y: Array, s: Array, q: Array, q_weight: Array, prior: Prior) -> tuple[Array, Array, Array]:
    """Grid of c, chance (c, q) on it, and the probability that each frame is botched."""
    low, high = prior.mean - 6 * prior.sd, prior.mean + 6 * prior.sd
    if len(y):
        low, high = min(low, float(y.min())), max(high, float(y.max()))
    few = slice(None, None, 6)  # both ends and a few between tell where c lies
    c = np.linspace(low, high, _FIRST)
    for _ in range(_ZOOMS):
        of_c = np.logaddexp.reduce(_on(c, y, s, q[few], q_weight[few], prior)[0], axis=1)
        here = np.flatnonzero(of_c > of_c.max() - _TAIL)
        c = np.linspace(c[max(here[0] - 1, 0)], c[min(here[-1] + 1, len(c) - 1)], _POINTS)
        if len(here) > 40:
            break
    log, bad = _on(c, y, s, q, q_weight, prior)
    chance = np.exp(log - log.max())
    chance /= chance.sum()
    return c, chance, np.tensordot(bad, chance, axes=([1, 2], [0, 1])) if len(y) else np.zeros(0)


def _on(c: Array, y: Array, s: Array, q: Array, q_weight: Array, prior: Prior) -> tuple[Array, Array]:
    start = -0.5 * ((c - prior.mean) / prior.sd) ** 2
    log = start[:, None] + np.log(q_weight)[None, :]
    sound, wrong = (
        _normal(y[:, None, None] - c[None, :, None], s[:, None, None] ** 2 + q[None, None, :] ** 2 + extra)
        for extra in (0.0, prior.botched_sd**2)
    )
    if prior.botched_share == 0:
        return log + sound.sum(axis=0), np.zeros_like(sound)
    sound, wrong = sound + np.log(1 - prior.botched_share), wrong + np.log(prior.botched_share)
    both = np.logaddexp(sound, wrong)
    return log + both.sum(axis=0), np.exp(wrong - both)


def _normal(off: Array, variance: Array) -> Array:
    return np.asarray(-0.5 * (off**2 / variance + np.log(variance)))


def _workings(
    springs: Sequence[Spring],
    prior: Prior,
    mean: float,
    sd: float,
    scatter: float,
    scatter_sd: float,
    suspects: tuple[str, ...],
) -> tuple[Working, ...]:
    listed = tuple(
        (
            f"frame {each.frame}",
            tell(
                "{factor} ± {sd} (springback {size} RMS)",
                factor=f"{each.factor:.3f}",
                sd=f"{each.sd:.3f}",
                size=small(each.springback_mm),
            ),
        )
        for each in springs
    )
    stated = "stated" if prior.scatter is not None else f"found, ± {scatter_sd:.3f}"
    caution = (
        f"frame {', '.join(suspects)} stands apart: slipped, taken off too early, or measured wrongly? "
        "Measure it again, or leave it out."
        if suspects
        else ""
    )
    return (
        Working(
            "Learnt springback factor c",
            f"{mean:.3f} ± {sd:.3f} (1 sd)",
            "c = Σ w c_f / Σ w, w = 1/(sd_f² + q²), the prior among them; summed over q and over what may be botched",
            (
                ("prior", f"{prior.mean:g} ± {prior.sd:g}"),
                ("scatter q from frame to frame", f"{scatter:.3f} ({stated})"),
                *listed,
            ),
            "Bayes' rule on a normal hierarchical model (docs/glue-up.md); the prior is our own, no source",
            caution,
        ),
    )

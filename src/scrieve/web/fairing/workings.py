"""How the figures of the Fairing page came about: off the line, its ±, kinks, port against starboard, next marks."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from scrieve.fairing.fairness import Fairness, Kinks, LineFairness
from scrieve.fairing.next_mark import NextMark
from scrieve.fairing.placing import SUSPECT_SD, SUSPECT_SD_PINNED
from scrieve.fairing.result import FairHull, MarkOff
from scrieve.fairing.sides import Sides
from scrieve.frames.columns.rows import Columns, put_in
from scrieve.web.fairing.trial import Trial
from scrieve.wording import by_itself, length, small, tell
from scrieve.working import Working

_DOUBT = "docs/fairing.md, '± and suspects'"
_FAIR = "docs/fairing-lines.md, 'Fairness'"
_SIDES = "docs/fairing-lines.md, 'Port and starboard'"
_LIMITS = f"Suspect from {SUSPECT_SD:g} sd, ends and knuckles {SUSPECT_SD_PINNED:g} both ways: our limits, no source."


def hull_workings(hull: FairHull) -> tuple[Working, ...]:
    """Workings of what is told of the hull as a whole: 'off the fair line', 'error of a mark', '± of the line'."""
    counted = [off for off in hull.offs if off.counts]
    squares = sum(off.residual_mm**2 for off in counted)
    stated, learnt = hull.boat.sigma_mm, hull.fit.error_scale
    most = max(hull.offs, key=lambda off: off.line_sd_mm)
    return (
        Working(
            "off the fair line",
            by_itself(small(hull.rms_mm)),
            "√(Σr²/n), r: mark less line, square to it, of the marks that count",
            (("n", str(len(counted))), ("Σr²", tell("{sum} mm²", sum=f"{squares:.0f}")),
             ("marks left out as suspect or dropped", str(len(hull.offs) - len(counted)))),
            "root mean square, definition",
        ),
        Working(
            "error of a mark",
            tell("± {r}", r=small(hull.error_mm)),
            "σ·τ: the error stated for the boat's marks, times what the marks themselves say of it, by the likelihood "
            "of all of them",
            (("stated σ", by_itself(small(stated, 2))), ("learnt τ", f"{learnt:.2f}")),
            "docs/fairing.md, 'Learning'",
            "One standard deviation of a usual mark: about one mark in three lies further off by measuring alone.",
        ),
        Working(
            "± of the line",
            tell("± {r}", r=small(_rms([off.line_sd_mm for off in hull.offs]))),
            "√(nᵀCn), n square to the line, C the covariance of the surface given its marks; one standard deviation, "
            "root mean square over the places of all marks; bands are drawn at twice that",
            (("at most", tell("± {r}, frame {f}, mark {m}", r=small(most.line_sd_mm), f=most.frame, m=most.number)),
             ("marks", str(len(hull.offs)))),
            _DOUBT,
            "It knows of measuring error only: not of a frame spacing misread for the whole boat, nor of a hull that "
            "has moved as a whole.",
        ),
    )  # fmt: skip


def off_working(hull: FairHull, off: MarkOff) -> Working:
    """How far one mark lies off the fair line, and what that is in standard deviations."""
    laid = hull.laid
    line = hull.point(hull.stations[off.frame], off.v)
    inputs: list[tuple[str, str]] = []
    if laid is not None:
        half, height = next(
            point for mark, point in zip(laid.marks, laid.points, strict=True) if mark.number == off.number
        )
        brought = ", brought in through the planking" if hull.boat.planking == "outside" else ""
        inputs.append((f"the mark{brought}", tell("{z} up, {y} out", z=small(height), y=small(half))))
    inputs += [
        ("the line there", tell("{z} up, {y} out", z=small(float(line[2])), y=small(float(line[1])))),
        ("± of the line there, 1 sd", by_itself(small(off.line_sd_mm, 2))),
        ("a usual mark's error, 1 sd", by_itself(small(hull.error_mm, 2))),
        ("r over what is expected of it", f"{_ratio(hull, off):.1f}"),
        ("off what all other marks say", f"{off.out_by_sd:.1f} sd"),
        ("a slip of it is told from", _told_from(off)),
    ]
    if off.along_mm:
        inputs.append(("along the line", by_itself(small(off.along_mm))))
    return Working(
        "off the line",
        by_itself(small(off.residual_mm)),
        "n·(mark − line), n square to the line, outwards above zero; in standard deviations r/√(σ² − σ_line²), the "
        "mark itself taken out of the line, or r/√(σ² + σ_line²) where it does not count; then by Student's tail, for "
        "the marks to spare, what is as seldom by the normal law",
        tuple(inputs),
        _DOUBT,
        _LIMITS,
    )


def _told_from(off: MarkOff) -> str:
    if not np.isfinite(off.told_from_mm):
        return "no size on: nothing else holds the line there"
    return tell("{mm} on", mm=small(off.told_from_mm))


def _ratio(hull: FairHull, off: MarkOff) -> float:
    sign = -1.0 if off.counts else 1.0
    return abs(off.residual_mm) / float(np.sqrt(max(hull.error_mm**2 + sign * off.line_sd_mm**2, 1e-6)))


def offs_columns(hull: FairHull, offs: Sequence[MarkOff]) -> Columns:
    """Of marks in a table: 'off the line'."""
    return {"off the line": tuple(off_working(hull, off) for off in offs)}


def fairness_columns(report: Fairness) -> Columns:
    """Of the diagonals in their table: kinks by the marks and as faired, how far moved, reversals."""
    kinks_formula = "reading − the cubic through its two neighbours on either side (Lagrange), the largest of the line"
    found: dict[str, list[Working]] = {
        name: [] for name in ("kink by the marks", "kink faired", "moved at most", "reversals")
    }
    for line in report.lines:
        for name, kinks, readings in (
            ("kink by the marks", line.before, line.before_mm),
            ("kink faired", line.after, line.after_mm),
        ):
            found[name].append(_kink(name, line, kinks, readings, kinks_formula))
        moved = int(np.abs(line.after_mm - line.before_mm).argmax())
        found["moved at most"].append(
            put_in(
                "moved at most",
                tell("{a} − {b}", a=small(float(line.after_mm[moved])), b=small(float(line.before_mm[moved]))),
                small(line.moved_mm),
                "faired − by the frame's own marks, along the diagonal, the largest either way",
                (("at frame", line.frames[moved]), ("read at frames", str(len(line.frames)))),
                _FAIR,
            )
        )
        found["reversals"].append(
            put_in(
                "reversals",
                "changes from hollow to round",
                str(line.reversals),
                "changes of sign of the faired line's curvature, each swing counted once 0.3 mm off its chord",
                (("by the marks' own second differences", str(line.before.reversals)),),
                _FAIR,
            )
        )
    return {name: tuple(workings) for name, workings in found.items()}


def _kink(name: str, line: LineFairness, kinks: Kinks, readings: np.ndarray, formula: str) -> Working:
    at = kinks.kink_at
    if at < 0:
        return Working(name, "–", "", (), _FAIR)
    near = [at - 2, at - 1, at + 1, at + 2]
    x = line.x_mm
    share = [np.prod([(x[at] - x[o]) / (x[k] - x[o]) for o in near if o != k]) for k in near]
    cubic = float(np.dot(share, readings[near]))
    return put_in(
        name,
        tell("|{a} − {b}|", a=small(float(readings[at]), 2), b=small(cubic, 2)),
        small(kinks.kink_mm, 2),
        formula,
        (("at frame", line.frames[at]), ("neighbours", ", ".join(line.frames[i] for i in near))),
        _FAIR,
    )


def sides_columns(found: Sides) -> Columns:
    """Of the frames in the table of port against starboard."""
    column: dict[str, list[Working]] = {
        name: []
        for name in ("port wider by, mean", "± of the mean", "largest", "± of the largest", "port head higher",
                     "more than measuring error")
    }  # fmt: skip
    for frame in found.frames:
        reached = int(np.isfinite(frame.difference_mm).sum())
        places = (("places along the line", str(reached)),)
        column["port wider by, mean"].append(
            put_in("port wider by", tell("mean of {n} places", n=reached), small(frame.mean_mm),
                   "mean along the line of port less starboard, square to the mean of the two lines", places, _SIDES)
        )  # fmt: skip
        column["± of the mean"].append(
            put_in("± of the mean", tell("2 × {s}", s=small(frame.mean_sd_mm, 2)), small(2 * frame.mean_sd_mm),
                   "2·√(wᵀ(C_port + C_starboard)w), w: the same share of every place", places, _DOUBT)
        )  # fmt: skip
        column["largest"].append(
            put_in("largest", tell("at {z} up, {y} out", z=length(frame.largest_at_mm[1]),
                                   y=length(frame.largest_at_mm[0])), small(frame.largest_mm),
                   "the largest of these differences, either way", places, _SIDES)
        )  # fmt: skip
        column["± of the largest"].append(
            put_in("± of the largest", tell("2 × {s}", s=small(frame.largest_sd_mm, 2)), small(2 * frame.largest_sd_mm),
                   "2·√(σ_port² + σ_starboard²) at that place", (), _DOUBT)
        )  # fmt: skip
        column["port head higher"].append(
            put_in("port head higher", "port's head − starboard's", small(frame.head_mm[1]),
                   "height of the line's upper end, each side faired by itself", (), _SIDES)
        )  # fmt: skip
        column["more than measuring error"].append(
            put_in("more than measuring error",
                   f"chance {frame.chance:.2g} {'<' if frame.real else '≥'} 0.01 / {len(found.frames)}",
                   "yes" if frame.real else "no",
                   "chance that measuring error alone bends the two lines apart by so much (chi-square of the "
                   "independent ways of differing), against one hull in a hundred, all its frames counted", (), _SIDES)
        )  # fmt: skip
    return {name: tuple(workings) for name, workings in column.items()}


def places_columns(places: Sequence[NextMark]) -> Columns:
    """Of the places to measure next: by how much each narrows the ±."""
    return {
        "± falls by": tuple(
            put_in(
                "± falls by",
                tell("1 − {a} / {b}", a=small(p.sd_after_mm, 4), b=small(places[0].sd_before_mm, 4)),
                f"{100 * (1 - p.sd_after_mm / places[0].sd_before_mm):.1f} %",
                "V − V r (s² + rᵀVr)⁻¹ rᵀV for the covariance V of the surface, r its row, s the error; "
                "the places before it taken as measured; of all frames to be made, square to their lines",
                (("this mark's own share of the variance", f"{100 * p.gain:.2f} %"),),
                "Rasmussen and Williams, Gaussian Processes for Machine Learning, 2006, eq. 2.24 and A.3",
            )
            for p in places
        )
    }


def trial_working(trial: Trial) -> Working:
    """How the move of the line at a mark that is tried came about."""
    return Working(
        "the line at this mark moves",
        by_itself(small(trial.here_mm)),
        "n·(line with the mark there − line as stored), square to the line, outwards above zero; the surface is solved "
        "again with that one mark moved",
        (("the mark, off the line before", by_itself(small(trial.before.residual_mm))),
         ("off the line now", by_itself(small(trial.after.residual_mm))),
         ("off what all other marks say now", f"{trial.after.out_by_sd:.1f} sd")),
        "docs/fairing.md, 'Learning'",
        "Stiffness and error stay as learnt from all marks, in a trial; stored, they are learnt anew.",
    )  # fmt: skip


def _rms(values: Sequence[float]) -> float:
    return float(np.sqrt(np.mean(np.square(values))))

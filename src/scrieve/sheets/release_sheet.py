"""A released frame drawn: how far it stands off its line, enlarged, with ±; and the course of the learnt factor."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import numpy as np

from scrieve.boat import Boat
from scrieve.frames.release.deviation import Deviation
from scrieve.frames.release.learning import Learnt, Spring
from scrieve.frames.release.off_jig import OffJig
from scrieve.frames.release.remedy import PullIn
from scrieve.sheets.bench import BenchSheet, Table
from scrieve.sheets.drawing import Circle, Drawing, Hatch, Item, Level, Line, Text, one_to, polyline
from scrieve.sheets.figures import length, off_by, thin_unit, unit, workings_table
from scrieve.units import Units
from scrieve.wording import inches
from scrieve.working import Check, Working

_ROOM_MM = (150.0, 100.0)
_LETTER_MM = 2.4


def deviation_drawing(found: Deviation, units: Units = "mm", title: str = "Off its line") -> Drawing:
    """Return the line, the frame's departure from it enlarged, ± two sd hatched, the tolerance dashed, the marks.

    In half-breadth and height [mm]; outward is to the right of the line going heel to head. The departure is drawn so
    many times its size that the greatest is a twelfth of the frame's length, in round figures.
    """
    target = found.target
    line = target.points_mm
    size = np.ptp(line, axis=0)
    n = one_to(float(size[0]) * 1.3, float(size[1]) * 1.1, _ROOM_MM)
    h = _LETTER_MM * n
    most = max(found.tolerance_mm, float(np.abs(found.deviation_mm).max() + 2 * found.sd_mm.max()))
    scale = _round_scale(target.length_mm / 12 / most)
    low, high = found.band(scale)
    items: list[Item] = [Hatch(np.vstack([low, high[::-1]]), "diagonal", 1.2 * n)]
    items.append(polyline(line, "CENTRELINE"))
    items += [polyline(line + way * scale * found.tolerance_mm * target.outward, "OTHER FACE") for way in (-1, 1)]
    items.append(polyline(found.drawn(scale), "MOULDED LINE"))
    normals = target.at(found.measured_s_mm, target.outward)
    marks = target.at(found.measured_s_mm, line) + scale * found.measured_mm[:, None] * normals
    items += [
        Circle(
            (float(y), float(z)), 0.35 * h, "MARKS", title=f"mark {i}: {off_by(float(mm), units)} {thin_unit(units)}"
        )
        for i, ((y, z), mm) in enumerate(zip(marks, found.measured_mm, strict=True), 1)
    ]
    at = target.at(np.array([found.worst_s_mm]), found.drawn(scale))[0]
    normal = target.at(np.array([found.worst_s_mm]), target.outward)[0]
    side = 1.0 if found.worst_mm >= 0 else -1.0
    foot = at + side * 1.2 * h * normal
    told = f"{off_by(found.worst_mm, units)} ± {off_by(found.worst_sd_mm, units).lstrip('+')} {thin_unit(units)}"
    items.append(
        Text(_pt(foot), told, h, "FIGURES", align="left" if side * normal[0] >= 0 else "right", level="middle")
    )
    for end, word in ((0, "heel"), (-1, "head")):
        along = line[end] - line[1 if end == 0 else -2]
        along /= np.hypot(*along)
        items.append(Text(_pt(line[end] + 1.6 * h * along), word, h, align="middle", level="middle"))
    within = inches(found.tolerance_mm) if units == "ft" else f"{found.tolerance_mm:g} mm"
    note = f"departure × {scale:g}; dashed: ± {within}; hatched: ± 2 sd"
    bottom = min(float(line[:, 1].min()), float(low[:, 1].min()), float(high[:, 1].min()), foot[1]) - 5 * h
    items.append(Text((float(line[:, 0].min()), bottom), note, 0.8 * h))
    return Drawing(tuple(items), title, n, None)  # the departure is drawn larger than the line it departs from


def course_drawing(springs: Sequence[Spring], course: Sequence[Learnt], title: str = "The learnt factor") -> Drawing:
    """Return the factor after each measured frame with ± 1 sd, and each frame's own; one step across for a frame.

    `course` has one value more than there are frames: the first is what was believed before any was measured.
    """
    wide, tall = max(14.0, 130.0 / len(course)), 60.0
    low = min(each.factor - each.sd for each in course)
    high = max(each.factor + each.sd for each in course)
    room = max(0.5, high - low)  # a frame that went wrong stands at the edge: it must not press the others together
    low = min([low, *(max(each.factor, low - room) for each in springs)])
    high = max([high, *(min(each.factor, high + room) for each in springs)])
    step = next(each for each in (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, math.inf) if (high - low) / each < 8)
    step = step if math.isfinite(step) else (high - low) / 8
    low, high = step * np.floor(low / step + 1e-9), step * np.ceil(high / step - 1e-9)

    def up(factor: float) -> float:
        return float(tall * (factor - low) / (high - low))

    items: list[Item] = []
    right = wide * len(course)
    for factor in np.arange(low, high + step / 2, step):
        items.append(Line((0.0, up(factor)), (right, up(factor)), "GRID"))
        items.append(Text((-2.0, up(factor)), f"{factor:.1f}", 2.4, align="right", level="middle"))
    x = wide * (np.arange(len(course)) + 0.5)
    middle, sd = np.array([each.factor for each in course]), np.array([each.sd for each in course])
    upper, lower = ([up(v) for v in middle + side * sd] for side in (1, -1))
    if len(course) > 1:
        items.append(
            Hatch(np.vstack([np.column_stack([x, upper]), np.column_stack([x, lower])[::-1]]), "diagonal", 1.5)
        )
        items.append(polyline(np.column_stack([x, [up(v) for v in middle]]), "MOULDED LINE"))
    for i, (at, each) in enumerate(zip(x, course, strict=True)):
        items.append(Line((float(at), lower[i]), (float(at), upper[i]), "BRACKETS"))
        items.append(Circle((float(at), up(each.factor)), 0.9, "MOULDED LINE", filled=True))
        name = "before" if i == 0 else each.frames[-1][:6]
        items.append(Text((float(at), -2.0), name, 2.4, align="middle", level="top"))
    for at, spring in zip(x[1:], springs, strict=True):
        ends = [min(max(spring.factor + side * spring.sd, low), high) for side in (-1, 1)]
        items.append(Line((float(at), up(ends[0])), (float(at), up(ends[1])), "MARKS"))
        inside = min(max(spring.factor, low), high)
        items.append(Circle((float(at), up(inside)), 1.3, "MARKS", title=f"frame {spring.frame}: {spring.factor:.3f}"))
        if inside != spring.factor:
            level: Level = "top" if spring.factor > high else "baseline"
            told = (float(at), up(inside) - math.copysign(2.0, spring.factor - inside))
            items.append(Text(told, f"{spring.factor:.1f}", 2.1, "FIGURES", "middle", level))
    items.append(Text((0.0, -8.5), "frames as measured; ring: a frame's own factor", 2.1))
    return Drawing(tuple(items), title, 1.0, None)


def deviation_table(found: Deviation, against: OffJig, girth_mm: Sequence[float], units: Units) -> Table:
    """How far the frame stands off its line at places along the moulded line, outward above zero."""
    s = against.along(np.asarray(girth_mm, dtype=float))
    off, covariance = found.at(s)
    sd = np.sqrt(np.maximum(np.diag(covariance), 0.0))
    return Table(
        "At the bevel marks",
        ("mark", f"along ({unit(units)})", f"off its line ({thin_unit(units)})", f"± 1 sd ({thin_unit(units)})"),
        tuple(
            (f"{i}", length(at, units), off_by(float(mm), units), off_by(float(one), units).lstrip("+"))
            for i, (at, mm, one) in enumerate(zip(girth_mm, off, sd, strict=True), 1)
        ),
        "Outward is above zero.",
        name="deviation",
    )


def pull_table(found: PullIn, girth_mm: Iterable[float], units: Units, limit_n: float | None) -> Table:
    """What each fastening is asked to pull the frame in: the least for the tolerance, and to close it fully."""
    least = found.least_forces_n
    allowed = "" if limit_n is None else f" One may be asked {limit_n:g} N."
    return Table(
        "To pull it in with the fastenings",
        ("fastening", f"along ({unit(units)})", "least pull (N)", "to close it fully (N)", "± 1 sd (N)"),
        tuple(
            (
                f"{i}",
                length(float(at), units),
                "–" if least is None else _newtons(least[i - 1]),
                _newtons(found.forces_n[i - 1]),
                f"{found.sd_n[i - 1]:.0f}",
            )
            for i, at in enumerate(girth_mm, 1)
        ),
        "Above zero: the fastening draws the frame outward there; below zero the planking bears it inboard. Plank and "
        f"fastening hold it for good: agree it with a surveyor or naval architect.{allowed}",
        name="pull",
    )


def _newtons(force: float) -> str:
    text = f"{force:+.0f}"
    return text[1:] if float(text) == 0 else text


def release_bench_sheet(
    frame: str,
    taken: str,
    verdict: str,
    text: str,
    found: Deviation,
    drawings: Sequence[tuple[str, Drawing]],
    tables: Sequence[Table],
    workings: Sequence[Working],
    summary: Sequence[tuple[str, str]],
    boat: Boat,
    revision: str,
    link: str = "",
) -> BenchSheet:
    """Return a measured frame as a bench sheet: how far it stands off its line, what to do, what the next jig learns.

    `taken` says what was measured and when, `verdict` and `text` what to do; `revision` is that of the line that the
    frame is held against.
    """
    units = boat.units
    worst = f"{off_by(found.worst_mm, units)} ± {off_by(found.worst_sd_mm, units).lstrip('+')} {thin_unit(units)}"
    within = inches(found.tolerance_mm) if units == "ft" else f"{found.tolerance_mm:g} mm"
    check = Check(
        "Off its line, two sd within",
        worst,
        f"± {within}",
        found.verdict == "within",
        "tolerance: common practice, no source; the shop's own where given",
        text,
    )
    return BenchSheet(
        title=f"Frame {frame}: {taken}",
        boat=boat.name,
        member=f"frame {frame}",
        revision=revision,
        link=link,
        drawings=tuple(drawings),
        tables=(*tables, workings_table(workings)),
        checks=(check,),
        cautions=(
            "What fastenings pull in, they and the plank hold for good: agree it with a surveyor or naval architect.",
            "Do not rip before full cure and before the frame has been measured off the jig.",
        ),
        summary=(("what to do", f"{verdict}. {text}"), ("at the most", worst), *summary),
    )


def _round_scale(most: float) -> float:
    """The greatest of 1, 2, 5, 10, 20… that is not above `most`."""
    ten = 10.0 ** np.floor(np.log10(max(most, 1e-3)))
    return float(max(step * ten for step in (1, 2, 5) if step * ten <= max(most, 1e-3) * (1 + 1e-9)))


def _pt(p: np.ndarray) -> tuple[float, float]:
    return (float(p[0]), float(p[1]))

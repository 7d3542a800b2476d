"""How the figures of a frame's shape came about: the fair line, bevels, the shape foretold, marks to carry."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from scrieve.fairing.section import Section
from scrieve.frames.columns.rows import Columns, degrees, put_in
from scrieve.frames.packet.prediction import Prediction
from scrieve.frames.parts import Array, BevelMark, CarriedMark, Outline
from scrieve.units import format_angle
from scrieve.wording import by_itself, length, small, tell
from scrieve.working import Working

_HULL = "the fair hull through every mark (docs/fairing.md)"


def line_columns(section: Section, at: Sequence[int], marks: int) -> Columns:
    """Of the offsets of a fair line at points `at` of the section: girth, offsets, ±, bevel and radius.

    `marks` is how many marks stand at this frame.
    """
    n = len(section.s_mm) - 1
    found: dict[str, list[Working]] = {
        name: [] for name in ("from heel", "half-breadth", "height", "± 1 sd", "bevel", "radius")
    }
    measured = f"{marks} of this frame's own" if marks else "none here: the marks of the frames on both sides"
    for i in at:
        s, kappa = float(section.s_mm[i]), float(section.curvature_per_mm[i])
        place = ("from the heel", length(s))
        found["from heel"].append(
            put_in(
                "from the heel",
                tell("{i} / {n} × {g}", i=i, n=n, g=length(section.girth_mm)),
                length(s),
                "steps of the girth, even to the nearest of 200 points; ∫√(dy² + dz²) along the fair line",
                (("girth", length(section.girth_mm)),),
                "arc length",
            )
        )
        for name, value in (("half-breadth", section.half_breadth_mm[i]), ("height", section.height_mm[i])):
            found[name].append(
                put_in(
                    name,
                    tell("the hull cut at station {x}, {s} from the heel", x=length(section.station_mm), s=length(s)),
                    small(float(value)),
                    "least bending of the whole surface + Σ ½ (mark's distance / its sd)²",
                    (("marks", measured), place),
                    _HULL,
                )
            )
        sd = float(section.sd_mm[i])
        found["± 1 sd"].append(
            put_in(
                "± of the line",
                tell("within ± {two} in 95 of 100", two=small(2 * sd)),
                small(sd),
                "√ of the line's variance square to itself, by the hull's covariance given the marks and their errors",
                (("marks", measured), place),
                _HULL,
            )
        )
        bevel = float(section.bevel_rad[i])
        found["bevel"].append(
            put_in(
                "bevel",
                f"atan {math.tan(bevel):+.4f}",
                degrees(bevel),
                "atan of the surface's slope towards aft, square to the line",
                (
                    (tell("in {h} aft the hull swells", h=length(100)), small(100 * math.tan(bevel))),
                    place,
                ),
                "slope of the fair surface",
            )
        )
        straight = abs(kappa) < 1e-5
        found["radius"].append(
            Working("radius", "straight: R over 100 m", "1 / κ", (), "curvature of the fair line")
            if straight
            else put_in(
                "radius",
                f"1 / {1000 * kappa:+.4f} m⁻¹",
                length(1 / kappa),
                "1 / κ, κ = (y′z″ - z′y″) / (y′² + z′²)^³⁄₂",
                (place,),
                "curvature of the fair line",
            )
        )
    return {name: tuple(rows) for name, rows in found.items()}


def girth_working(section: Section) -> Working:
    """How the girth of a section came about."""
    step = np.hypot(np.diff(section.half_breadth_mm), np.diff(section.height_mm))
    chord = math.hypot(
        float(section.half_breadth_mm[-1] - section.half_breadth_mm[0]),
        float(section.height_mm[-1] - section.height_mm[0]),
    )
    return put_in(
        "Girth",
        tell("{n} steps of {s}", n=len(step), s=small(float(step.mean()), 2)),
        length(section.girth_mm),
        "∫√(dy² + dz²) along the fair line, heel to head",
        (
            ("heel", _point(section.points_mm[0])),
            ("head", _point(section.points_mm[-1])),
            ("straight from heel to head", length(chord)),
        ),
        "arc length",
    )


def doubt_working(section: Section, sigma_mm: float, marks: int, rms_mm: float | None) -> Working:
    """How the ± of a section came about: the most of it, what it hangs on, and where."""
    worst = int(np.nanargmax(section.sd_mm))
    found = tell("± {sd} (1 sd)", sd=small(float(section.sd_mm[worst])))
    inputs = [
        ("where", tell("{s} from the heel", s=length(float(section.s_mm[worst])))),
        ("least along it", tell("± {sd}", sd=small(float(np.nanmin(section.sd_mm))))),
        ("measuring error of a usual mark", tell("± {s}", s=small(sigma_mm))),
        ("marks at this frame", f"{marks}" if marks else "none: the frames on both sides alone"),
    ]
    if rms_mm is not None:
        inputs.append(("its marks off the line, rms", by_itself(small(rms_mm))))
    return Working(
        "± of the line",
        found,
        "√ of the line's variance square to itself, by the hull's covariance given every mark and its error",
        tuple(inputs),
        _HULL,
        "it is the ± of the line, not of the wood: what creeps or is sprung in the hull is not in it",
    )


def _point(at: Array) -> str:
    return tell("{y} out, {z} up", y=small(float(at[0])), z=small(float(at[1])))


def bevel_columns(bevels: Sequence[BevelMark], outline: Outline, sided_mm: float, whole: bool) -> Columns:
    """Of the bevel marks: place, offsets, bevel on both edges. `whole`: whether the hull was cut at the far face."""
    found: dict[str, list[Working]] = {
        name: [] for name in ("from heel", "half-breadth", "height", "outer edge", "inner edge")
    }
    last = len(bevels) - 1
    girth = float(outline.s_mm[-1])
    how = "the hull cut at the far face" if whole else "sided × slope of the hull at the moulding face"
    for each in bevels:
        figure = f"mark {each.number}"
        shift = float(np.interp(each.s_mm, outline.s_mm, outline.shift_mm))
        found["from heel"].append(
            put_in(
                f"{figure}, from the heel",
                tell("{i} / {n} × {g}", i=each.number - 1, n=last, g=length(girth)),
                length(each.s_mm),
                tell("even steps of the girth, about {l} apart, both ends among them", l=length(300)),
                (("girth", length(girth)),),
                "common practice (one a foot of frame), no source",
            )
        )
        for name, value in (("half-breadth", each.half_breadth_mm), ("height", each.height_mm)):
            found[name].append(
                put_in(
                    f"{figure}, {name}",
                    tell("the moulded line at {s} from the heel", s=length(each.s_mm)),
                    length(value),
                    "point of the fair line at this girth",
                    (("inner edge", tell("{y} out, {z} up", y=length(each.inner_half_breadth_mm),
                                         z=length(each.inner_height_mm))),),
                    _HULL,
                )
            )  # fmt: skip
        found["outer edge"].append(
            put_in(
                f"{figure}, bevel",
                tell("atan({w} / {s})", w=small(shift), s=small(sided_mm)),
                degrees(each.bevel_rad),
                "atan(wood / sided); wood: how far the far face stands outside the moulding face, square to the line",
                (
                    ("bevel wood", small(each.wood_mm)),
                    ("far face by", how),
                ),
                "geometry; standing above zero, under below",
            )
        )
        flat = abs(each.bevel_rad) < 1e-9
        lean = 0.0 if flat else math.acos(min(math.tan(each.inner_bevel_rad) / math.tan(each.bevel_rad), 1.0))
        found["inner edge"].append(
            put_in(
                f"{figure}, bevel on the inner edge",
                f"atan(tan {format_angle(each.bevel_rad)} × cos {format_angle(lean)})",
                degrees(each.inner_bevel_rad),
                "atan(tan bevel × cos lean); the same wood on both edges, the inner one off the outer by its taper",
                (("lean of the inner edge", format_angle(lean)),),
                "geometry; standing above zero, under below",
            )
        )
    return {name: tuple(rows) for name, rows in found.items()}


def shape_columns(seen: Prediction, bevels: Sequence[BevelMark], line_mm: Array, line_s_mm: Array) -> Columns:
    """Of the shape foretold at the bevel marks: off the jig, its ±, finished. `line_mm` (n, 2) is the line wanted."""
    wanted = np.column_stack([np.interp(seen.s_mm, line_s_mm, line_mm[:, k]) for k in (0, 1)])
    found: dict[str, list[Working]] = {name: [] for name in ("from heel", "off the jig", "1 sd", "finished")}

    def at(values: Array, s: float) -> float:
        return float(np.interp(s, seen.s_mm, values))

    theory = "elastic theory of the stack and of locked-in stress (docs/frames.md)"
    laid = "shape released, laid on the line wanted by least squares; what is left square to the line, outside above 0"
    for mark in bevels:
        s, figure = mark.s_mm, f"mark {mark.number}"
        here = tuple(at(wanted[:, k], s) for k in (0, 1))
        lost = ("springback here", f"{100 * at(seen.share_lost, s):.2f} % of the jig's curvature")
        found["from heel"].append(
            put_in(f"{figure}, from the heel", f"bevel mark {mark.number}", length(s), "places of the bevel marks", (),
                   "as under Bevel")
        )  # fmt: skip
        for name, points, out in (
            ("off the jig", seen.off_jig_mm, seen.off_jig_out_mm),
            ("finished", seen.finished_mm, seen.finished_out_mm),
        ):
            there = tuple(at(points[:, k], s) for k in (0, 1))
            more = (
                (("gained on cleaning off", f"{100 * at(seen.share_later, s):+.2f} %"),) if name == "finished" else ()
            )
            found[name].append(
                put_in(
                    f"{figure}, {name}",
                    tell(
                        "({a}; {b}) - ({c}; {d}), square to the line",
                        a=small(there[0], 2), b=small(there[1], 2), c=small(here[0], 2), d=small(here[1], 2),
                    ),
                    small(at(out, s)),
                    laid,
                    (("out; up, foretold less wanted", "as put in"), lost, *more, ("factor c", f"{seen.factor:g}")),
                    theory,
                    "an estimate until a frame of this timber and glue has been measured",
                )
            )  # fmt: skip
        sd = at(seen.sd_mm, s)
        found["1 sd"].append(
            put_in(
                f"{figure}, ±",
                tell("{f:.3f} × {d}", f=seen.factor_sd, d=small(sd / seen.factor_sd if seen.factor_sd else 0.0, 2)),
                small(sd),
                "sd of the factor c × how far the shape moves here for 1 of c",
                (("c", f"{seen.factor:g} ± {seen.factor_sd:g}"), lost),
                theory,
            )
        )
    return {name: tuple(rows) for name, rows in found.items()}


def mark_columns(marks: Sequence[CarriedMark]) -> Columns:
    """Of the marks to carry: their places on the moulded line; those without a place have none."""
    found: dict[str, list[Working]] = {name: [] for name in ("from heel", "half-breadth", "height")}
    for mark in marks:
        if mark.s_mm is None or mark.half_breadth_mm is None or mark.height_mm is None:
            for rows in found.values():
                rows.append(Working(mark.text, "anywhere", "", (), ""))
            continue
        level = mark.text.startswith("waterline")
        how = tell("where the moulded line stands {z} up", z=length(mark.height_mm)) if level else "along the fair line"
        for name, value in (
            ("from heel", mark.s_mm),
            ("half-breadth", mark.half_breadth_mm),
            ("height", mark.height_mm),
        ):
            found[name].append(
                put_in(f"{mark.text}, {name}", how, length(value), "point of the moulded line", (), _HULL)
            )
    return {name: tuple(rows) for name, rows in found.items()}

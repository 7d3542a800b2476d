"""How the figures of a worked frame's tables came about: ripping, what was measured, what pulls it in."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from scrieve.frames.columns.rows import Columns, put_in
from scrieve.frames.columns.shape import mark_columns
from scrieve.frames.release.deviation import Deviation
from scrieve.frames.release.remedy import PullIn
from scrieve.frames.ripping import COMMON, BevelCut, Cut, RippingPlan
from scrieve.units import format_angle
from scrieve.wording import Length, by_itself, length, small, tell
from scrieve.working import Working


def ripping_plan_columns(plan: RippingPlan) -> dict[str, Columns]:
    """Return the workings of a ripping's tables: strips across the siding, cuts, bevels of each half, marks."""
    found: dict[str, Columns] = {"strips": _strips(plan), "cuts": _cuts(plan)}
    for half in plan.halves:
        found[f"bevels-{half.word}"] = _bevels(half.bevels, plan.sizes.sided_mm)
    found["marks"] = mark_columns(plan.placed)
    return found


def _strips(plan: RippingPlan) -> Columns:
    sizes = plan.sizes
    left = (
        ("siding of the blank", small(plan.siding_mm)),
        ("needed", small(sizes.needed_mm)),
        ("left to clean off each sawn face", small(plan.cleaning_left_mm)),
    )
    starts, ends, wide = [], [], []
    for layer in plan.layers:
        name, width = layer.what, layer.to_mm - layer.from_mm
        starts.append(
            put_in(name, "end of the strip before", Length(layer.from_mm, 1), "Σ of the strips before it", (), COMMON)
        )
        ends.append(
            put_in(
                name,
                tell("{a} + {w}", a=small(layer.from_mm), w=small(width)),
                Length(layer.to_mm, 1),
                "from + wide",
                (),
                "geometry",
            )
        )
        if layer.what == "sawn-face cleaning":
            spare = (plan.siding_mm - sizes.needed_mm) / 2
            numbers = tell("{c} + ({s}) / 2", c=small(sizes.cleaning_mm), s=small(2 * spare))
            formula = "cleaning as settled + half of what the blank has over (or under) its siding needed"
        else:
            numbers, formula = "as settled", "finished siding, kerf of the saw, cleaning of an edge: as settled"
        wide.append(put_in(name, numbers, small(width), formula, left, COMMON))
    return {"from": tuple(starts), "to": tuple(ends), "wide": tuple(wide)}


def _cuts(plan: RippingPlan) -> Columns:
    sizes, siding = plan.sizes, plan.siding_mm
    edge, sided, left = sizes.edge_cleaning_mm, sizes.sided_mm, plan.cleaning_left_mm
    sums = (
        (sided, by_itself(small(sided)), "finished siding"),
        (sided + left, tell("{a} + {b}", a=small(sided), b=small(left)), "finished siding + what is left to clean off"),
        (edge, by_itself(small(edge)), "cleaning of an edge"),
        (siding, by_itself(small(siding)), "siding of the blank"),
        (siding - edge, tell("{a} - {b}", a=small(siding), b=small(edge)), "siding - cleaning of one edge"),
        (siding - 2 * edge, tell("{a} - 2 × {b}", a=small(siding), b=small(edge)), "siding - cleaning of both edges"),
    )

    def of(cut: Cut, value: float | None) -> Working:
        if value is None:
            return Working(cut.what, "none", "", (), "")
        _, numbers, formula = min(sums, key=lambda row: abs(row[0] - value))
        return put_in(cut.what, numbers, Length(value, 1), formula, (), COMMON)

    return {
        "setting": tuple(of(cut, cut.setting_mm) for cut in plan.cuts),
        "leaves": tuple(of(cut, cut.leaves_mm) for cut in plan.cuts),
    }


def _bevels(bevels: Sequence[BevelCut], sided_mm: float) -> Columns:
    along, angle, wood = [], [], []
    for each in bevels:
        name = f"mark {each.number}"
        told = format_angle(each.bevel_rad)
        along.append(put_in(name, "bevel mark", length(each.s_mm), "the places of the bevel marks", (), "the design"))
        angle.append(
            put_in(
                name,
                tell("the pair's bevel at mark {n}", n=each.number),
                "square" if each.off_face == "neither" else told,
                "the same on both halves, worked to the opposite hand",
                (("seen across the blank", format_angle(each.tilt_rad)),),
                "standing above zero, under below",
            )
        )
        wood.append(
            put_in(
                name,
                tell("{s} × tan {b}", s=small(sided_mm), b=format_angle(abs(each.bevel_rad))),
                small(each.wood_mm),
                "finished siding × tan of the bevel",
                (("off", each.off_face),),
                "geometry",
            )
        )
    return {"along": tuple(along), "bevel": tuple(angle), "wood": tuple(wood)}


def deviation_columns(found: Deviation, places_mm: Sequence[float], girth_mm: Sequence[float]) -> Columns:
    """Of a measured frame at its bevel marks: departure and its ±. `places_mm` are along the line measured, `girth_mm`
    the same places along the moulded line."""
    off, covariance = found.at(np.asarray(places_mm, dtype=float))
    sd = np.sqrt(np.maximum(np.diag(covariance), 0.0))
    along, away, doubt = [], [], []
    for i, (s, girth) in enumerate(zip(places_mm, girth_mm, strict=True)):
        name = f"mark {i + 1}"
        near = int(np.argmin(np.abs(found.measured_s_mm - s)))
        beside = (
            ("nearest figure measured, laid on the line", small(float(found.measured_mm[near]))),
            ("so far from here", length(abs(float(found.measured_s_mm[near]) - s))),
            ("figures", len(found.measured_s_mm)),
        )
        along.append(put_in(name, "bevel mark", length(girth), "the places of the bevel marks", (), "the design"))
        away.append(
            put_in(
                name,
                "smooth change of bend through every figure, at this place",
                small(float(off[i])),
                "d = A g + B a + ε: g how the frame lies, a how its bend has changed; laid on its line",
                beside,
                "least squares with the frame's place projected out (docs/glue-up.md)",
            )
        )
        doubt.append(
            put_in(
                name,
                "√ of its variance here",
                small(float(sd[i])),
                "by the error of a figure, how the frame lies, and how its bend may have changed",
                (*beside, ("tolerance", small(found.tolerance_mm))),
                "docs/glue-up.md",
            )
        )
    return {"along": tuple(along), "off its line": tuple(away), "± 1 sd": tuple(doubt)}


def pull_columns(found: PullIn, girth_mm: Sequence[float]) -> Columns:
    """Of the fastenings that pull a frame in: the least pull, the pull that closes it fully, and its ±."""
    least, full, doubt, along = [], [], [], []
    allowed = "not said" if found.limit_n is None else f"{found.limit_n:g} N"
    total, moment = f"{float(found.forces_n.sum()):.0f} N", f"{found.moment_nmm / 1e6:.3f} kN m"
    for i, s in enumerate(girth_mm):
        name = f"fastening {i + 1}"
        along.append(put_in(name, "as settled, else a bevel mark", length(s), "places of fastenings", (), "settled"))
        if found.least_forces_n is None:
            least.append(Working(name, "none brings it within", "", (), ""))
        else:
            least.append(
                put_in(
                    name,
                    f"greatest of all {found.least_n or 0:.0f} N",
                    f"{found.least_forces_n[i]:.0f} N",
                    "min max |F|, with |deviation| ≤ tolerance - 2 sd at 61 places (a fifth of the tolerance at least)",
                    (("one may be asked", allowed),),
                    "thin curved beam, linear programme (docs/glue-up.md)",
                    "plank and fastening hold it for good: agree it with a surveyor or naval architect",
                )
            )
        full.append(
            put_in(
                name,
                "all forces together move it by minus its deviation",
                f"{found.forces_n[i]:.0f} N",
                "M(s) = Σ F (r - r(s)) × n, δκ = M/EI, moved by minus the deviation at each fastening; ΣF = 0, ΣM = 0",
                (("all together", total), ("moment put in", moment), ("one may be asked", allowed)),
                "thin curved beam in bending (docs/glue-up.md)",
            )
        )
        doubt.append(
            put_in(
                name,
                "the same forces for the ± of the deviation",
                f"{found.sd_n[i]:.0f} N",
                "√ diag(G C Gᵀ), C the covariance of the deviation at the fastenings, G what closes it",
                (),
                "thin curved beam in bending (docs/glue-up.md)",
            )
        )
    return {
        "along": tuple(along),
        "least pull": tuple(least),
        "to close it fully": tuple(full),
        "± 1 sd": tuple(doubt),
    }

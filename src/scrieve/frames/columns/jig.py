"""How the figures of a jig's tables came about, bracket by bracket: places, travel, swivel, closing, checks."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np

from scrieve.frames.columns.rows import Columns, degrees, put_in
from scrieve.frames.jig.bed import TRAVEL_STEP_MM
from scrieve.frames.packet.closing import FRICTION, Closing
from scrieve.frames.parts import BenchCheck, Jig
from scrieve.wording import Length, length, small, tell
from scrieve.working import Working

_POSED = "geometry of the posed packet (docs/jig.md)"


def _tenths(mm: float) -> Length:
    return Length(mm, 1)


def jig_columns(jig: Jig) -> Columns:
    """Of the brackets of a jig on its own rails: place along the datum line, travel, swivel."""
    along, travel, swivel = [], [], []
    for each in jig.brackets:
        figure = f"bracket {each.number}"
        at = ("along the moulded line, from the heel", length(each.s_mm))
        place = ("place along the datum line", _place(each.along_mm))
        if each.rail:
            numbers = tell("({n} - 1) × {p}", n=each.rail, p=length(jig.pitch_mm))
        else:
            near = min((b for b in jig.brackets if b.rail), key=lambda b: abs(b.along_mm - each.along_mm))
            way = each.along_mm - near.along_mm
            sign = "+" if way > 0 else "-"
            numbers = tell("{a} {s} {w}", a=_place(near.along_mm), s=sign, w=_place(abs(way)))
        along.append(
            put_in(
                f"{figure}, along",
                numbers,
                _place(each.along_mm),
                "(rail - 1) × pitch; an extra bracket: the nearest rail ± its distance, where it holds the end best",
                (at,),
                "bed as designed",
            )
        )
        slope = math.tan(each.swivel_rad)
        travel.append(travel_working(figure, each.exact_travel_mm, each.travel_mm, (at, place)))
        swivel.append(swivel_working(figure, slope, each.swivel_rad, (at, place)))
    return {"along": tuple(along), "travel": tuple(travel), "swivel": tuple(swivel)}


def _place(mm: float) -> Length:
    return Length(mm, 0 if abs(mm - round(mm)) < 0.05 else 1)


def travel_working(figure: str, exact_mm: float, travel_mm: float, inputs: tuple[tuple[str, Length], ...]) -> Working:
    """How the travel of one bracket came about."""
    return put_in(
        f"{figure}, travel",
        tell("{e}, to the nearest {t}", e=small(exact_mm, 2), t=small(TRAVEL_STEP_MM)),
        Length(travel_mm, 1),
        "height of the bearing face over the datum line there; the face is the curve κ_jig = κ / (1 - c r), integrated",
        inputs,
        _POSED,
    )


def swivel_working(figure: str, slope: float, swivel_rad: float, inputs: tuple[tuple[str, Length], ...]) -> Working:
    """How the swivel of one bracket came about."""
    return put_in(
        f"{figure}, swivel",
        f"atan {slope:+.4f}",
        degrees(swivel_rad),
        "atan of the slope of the bearing face against the datum line, where the bracket touches it",
        inputs,
        _POSED,
    )


def proof_columns(
    checks: Sequence[BenchCheck], second: str = "at the middle", shown: Callable[[float], Length] = _tenths
) -> Columns:
    """Of the measurements that prove a setting: lengths, and the sagitta, whose column is called `second`; `shown`
    makes the length that is read on the tape."""
    lengths, sagittas = [], []
    for each in checks:
        if len(each.ends_mm) != 2:
            return {}
        (x, y), (u, v) = each.ends_mm
        inputs = tuple(
            (name, tell("{a} along, {o} out", a=small(a), o=small(o)))
            for name, (a, o) in (("from", each.ends_mm[0]), ("to", each.ends_mm[1]))
        )
        chord = math.hypot(u - x, v - y)
        over = tell("√(({a})² + ({b})²)", a=small(abs(u - x)), b=small(abs(v - y)))
        lengths.append(
            put_in(
                f"{each.name}, length", over, shown(chord), "√(Δalong² + Δout²)", inputs, "Pythagoras, along the bed"
            )
        )
        if each.sagitta_mm is None or each.foot_mm is None:
            sagittas.append(Working(f"{each.name}, {second}", "none", "", (), ""))
            continue
        a, b = each.foot_mm
        sagittas.append(
            put_in(
                f"{each.name}, {second}",
                tell(
                    "|({u}) × ({b}) - ({v}) × ({a})| / {c}",
                    u=small(u - x),
                    b=small(b - y),
                    v=small(v - y),
                    a=small(a - x),
                    c=small(chord),
                ),
                shown(each.sagitta_mm),
                "|Δalong × out - Δout × along| / chord: square from the line to the face",
                (*inputs, ("measured at", tell("{a} along, {o} out", a=small(a), o=small(b)))),
                "distance of a point from a line",
            )
        )
    return {"length": tuple(lengths), second: tuple(sagittas)}


def closing_columns(closing: Closing, jig: Jig) -> Columns:
    """Of the brackets of a packet drawn in: turn, pull, bearing and clamps."""
    brackets = closing.brackets
    girth = np.array([each.s_mm for each in brackets])
    run = np.r_[0.0, np.cumsum(np.hypot(*np.diff(jig.neutral_mm, axis=0).T))]
    at = np.interp(girth, jig.s_mm, run)
    moment = np.array([each.moment_nmm for each in brackets]) / 1000
    bay = np.diff(at) / 1000
    slope = np.r_[0.0, np.diff(moment) / bay, 0.0]
    middle = (girth[0] + girth[-1]) / 2
    first = min(girth, key=lambda s: abs(s - middle))
    turns, pulls, bears, clamps = [], [], [], []
    source = f"beam theory, three-moment equations (docs/frames.md); {FRICTION}"
    inside = jig.bearing == "inside"
    for k, each in enumerate(brackets):
        figure = f"bracket {each.number}"
        turns.append(
            put_in(
                f"{figure}, in turn",
                tell("{d} from the middlemost bracket", d=length(abs(each.s_mm - first))),
                f"{each.turn}",
                "the middlemost first, then by the distance from it along the frame",
                (("along the moulded line", length(each.s_mm)),),
                "common practice, no source",
            )
        )
        before = sorted((other for other in brackets if other.turn < each.turn), key=lambda other: other.number)
        numbers = f"reaction at {each.number} with " + ", ".join(str(other.number) for other in before) + " closed"
        pulls.append(
            put_in(
                f"{figure}, pull",
                numbers if len(before) > 1 else "held before anything is bent",
                f"{each.pull_n:.0f} N",
                "the same sum as 'bears', with only the brackets closed so far and this one",
                (("turn", f"{each.turn} of {len(brackets)}"), ("bears once all are closed", f"{each.force_n:.0f} N")),
                source,
                "a bent packet stores force: stand clear of its ends",
            )
        )
        left, right = slope[k], slope[k + 1]
        terms = []
        if k:
            terms.append(f"({moment[k]:.2f} - {moment[k - 1]:.2f}) / {bay[k - 1]:.4f}")
        if k + 1 < len(brackets):
            terms.append(f"({moment[k + 1]:.2f} - {moment[k]:.2f}) / {bay[k]:.4f}")
        shear = f"{terms[0]} - {terms[1]}" if len(terms) == 2 else terms[0] if k else f"-{terms[0]}"
        force = (left - right) * (1 if inside else -1)
        bears.append(
            put_in(
                f"{figure}, bears",
                shear if inside else f"-({shear})",
                f"{force:.0f} N" if f"{force:.0f}" != "-0" else "0 N",
                "step of the shear: ΔM / bay before it - ΔM / bay behind it (N m over m)",
                (
                    ("moment here", f"{moment[k]:.1f} N m"),
                    ("packet's bearing face", jig.bearing),
                    ("below zero", "it must be clamped to the bracket"),
                ),
                source,
            )
        )
        draw = max(-each.force_n, each.pull_n, 0.0)
        clamps.append(
            put_in(
                f"{figure}, clamps",
                f"{draw:.0f} N / {closing.clamp_n:.0f} N, rounded up",
                f"{each.clamps}",
                "the greater of the pull and what it must hold, over the force of one clamp; one at least",
                (("pull", f"{each.pull_n:.0f} N"), ("bears", f"{each.force_n:.0f} N")),
                "force of a clamp: as settled for the frame, else a shop default, no source",
            )
        )
    return {"in turn": tuple(turns), "pull": tuple(pulls), "bears": tuple(bears), "clamps": tuple(clamps)}

"""An old plank or a template, traced: from the lines of a drawing to its edges, as points of a spiling batten."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scrieve.errors import BadMarks, BadPlank
from scrieve.planking.board import least_strip
from scrieve.planking.choice import Edge, SpilingBatten, SpilingMark
from scrieve.planking.seams import run_length

Array = NDArray[np.float64]

#: What `$INSUNITS` of a DXF file says -> mm (DXF reference, HEADER section); 0 is no unit.
DXF_UNITS: dict[int, tuple[str, float]] = {
    1: ("inches", 25.4), 2: ("feet", 304.8), 4: ("mm", 1.0), 5: ("cm", 10.0), 6: ("m", 1000.0), 14: ("dm", 100.0),
}  # fmt: skip
UNIT_MM = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, "ft": 304.8}
#: Ends of lines nearer than this are one point.
MEET_MM = 0.5
#: A corner of the outline: it turns by more than this within `CORNER_MM`.
CORNER_DEG = 30.0
CORNER_MM = 12.0
#: An edge steps, at a nib, where it rises by so much in 8 mm over its usual slope.
STEP_MM = 4.0
#: A plank's length is looked for between these; a wrong unit puts it outside.
LEAST_MM, MOST_MM = 150.0, 30_000.0
#: Points taken along each edge of a traced outline.
POINTS = 25


@dataclass(frozen=True, slots=True)
class Trace:
    """What a traced file holds: the edges as marks of a batten, and what to look at besides.

    `layers` are those of the file with the number of lines and points on each; `unit` is what was taken as its unit.
    """

    batten: SpilingBatten
    unit: str
    layers: tuple[tuple[str, int], ...]
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Drawn:
    """A line of a drawing, or a single point: its layer, and points (n, 2) [mm]."""

    layer: str
    points: Array


def traced(
    drawn: Sequence[Drawn],
    texts: Sequence[tuple[str, tuple[float, float]]],
    name: str,
    unit: str = "mm",
    *,
    layer: str = "",
    mirrored: bool = False,
) -> Trace:
    """The edges of a plank from the lines of a drawing.

    Parameters
    ----------
    drawn : sequence of Drawn
        Its lines and points; lines on a layer whose name holds 'frame' are frame lines.
    texts : sequence of (text, (x, y))
        Its lettering, for the labels of frame lines [mm].
    name, unit : str
        The file's name and the unit it was read in, for the messages.
    layer : str
        Where the outline lies; blank: the layer `SEAM EDGE`, or the only one that has lines.
    mirrored : bool
        The outside face was traced: turned over.

    Raises
    ------
    BadMarks
        No outline and no two edges are on the layer; the message says what was found on which layers.
    """
    found: dict[str, list[Array]] = {}
    frame_lines: list[Array] = []
    for line in drawn:
        if "frame" in line.layer.lower() and len(line.points) > 1:
            frame_lines.append(line.points)
        else:
            found.setdefault(line.layer, []).append(line.points)
    layers = tuple((on, len(lines)) for on, lines in found.items())
    lower, upper, told = _edges(found, layer, f"{name} (read in {unit})", mirrored)
    turned = told["turn"]
    labels = [(text, turned(np.array([at]))[0]) for text, at in texts]
    marks: list[SpilingMark] = []
    for frame in frame_lines:
        marks += _frame_marks(turned(frame), lower, upper, labels)
    warnings = list(told["warnings"])
    for edge, line in (("lower", lower), ("upper", upper)):  # type: ignore[assignment]
        if (step := _step(line)) is not None and not told["points"]:  # type: ignore[arg-type]
            warnings.append(f"{name}, {edge} edge: it steps {step[1]:.0f} mm at {step[0]:.0f} mm along; is a nib let "
                            "in there? The fair edge does not follow a step: trace the plank as two, up to it and from "
                            "it.")  # fmt: skip
    if frame_lines and not marks:
        warnings.append(f"{name}: no frame line crosses both edges and has its label beside it; frames are left out.")
    for edge, line in (("lower", lower), ("upper", upper)):  # type: ignore[assignment]
        marks += _edge_marks(edge, line, told["points"], marks)  # type: ignore[arg-type]
    marks.sort(key=lambda mark: (mark.edge, mark.x_mm))
    return Trace(SpilingBatten(tuple(marks)), unit, layers, tuple(warnings))


def _edges(found: dict[str, list[Array]], layer: str, name: str, mirrored: bool) -> tuple[Array, Array, dict[str, Any]]:
    """Lower and upper edge (n, 2), x rising along the plank [mm], and how they were found."""
    chosen = _layer(found, layer, name)
    curves: dict[str, list[Array]] = {}
    points: dict[str, list[Array]] = {}
    for on in chosen:
        for line in found[on]:
            if not np.all(np.isfinite(line)):
                raise BadMarks(f"{name}, layer {on!r}: a line has a point that is no number.")
            if len(line) == 1:
                points.setdefault(on, []).append(line[0])
            elif len(line) > 1 and run_length(line) > MEET_MM:
                curves.setdefault(on, []).append(line)
    lines = [line for one in curves.values() for line in _joined(one)]
    closed = [line for line in lines if np.hypot(*(line[0] - line[-1])) <= MEET_MM]
    warnings: list[str] = []
    if closed:
        outline = max(closed, key=run_length)
        if len(closed) > 1:
            round_mm = run_length(outline)
            warnings.append(f"{name}: {len(closed)} closed outlines; the longest, {round_mm:.0f} mm round, was taken.")
        turn = _turn(outline, mirrored, name)
        lower, upper = _parted(turn(outline), name)
        return lower, upper, {"turn": turn, "warnings": warnings, "points": False}
    if lines:
        long = sorted(lines, key=run_length, reverse=True)[:2]
        if len(long) < 2 or run_length(long[1]) < 0.5 * run_length(long[0]):
            raise BadMarks(f"{name}, {_named(chosen)}: found {len(lines)} open line(s) and no closed outline; close "
                           "it, or draw both edges.")  # fmt: skip
        turn = _turn(np.vstack(long), mirrored, name)
        first, second = sorted((_along(turn(line)) for line in long), key=lambda line: float(line[:, 1].mean()))
        return first, second, {"turn": turn, "warnings": warnings, "points": False}
    return _pointed(points, chosen, name, mirrored)


def _layer(found: dict[str, list[Array]], layer: str, name: str) -> list[str]:
    there = "; ".join(f"{on!r} ({len(entities)})" for on, entities in found.items()) or "none"
    if layer:
        match = [on for on in found if on.lower() == layer.lower()]
        if not match:
            raise BadMarks(f"{name}: no line on layer {layer!r}; layers with lines are {there}.")
        return match
    if not found:
        raise BadMarks(f"{name}: no polyline, spline, line, arc or point in its model space; draw the outline there.")
    for wanted in (("seam edge",), ("lower", "upper")):
        match = [on for on in found if on.lower() in wanted]
        if len(match) == len(wanted):
            return match
    if len(found) > 1:
        raise BadMarks(f"{name}: lines on several layers: {there}; name the one that holds the outline.")
    return list(found)


def _pointed(
    points: dict[str, list[Array]], chosen: list[str], name: str, mirrored: bool
) -> tuple[Array, Array, dict[str, Any]]:
    names = {on.lower(): np.array(there) for on, there in points.items()}
    if set(names) != {"lower", "upper"} or min(len(there) for there in names.values()) < 2:
        raise BadMarks(f"{name}, {_named(chosen)}: found points alone; put those of the two edges on layers LOWER and "
                       "UPPER, two or more on each.")  # fmt: skip
    turn = _turn(np.vstack([*names.values()]), mirrored, name)
    lower, upper = (_along(turn(names[edge])[np.argsort(turn(names[edge])[:, 0])]) for edge in ("lower", "upper"))
    return lower, upper, {"turn": turn, "warnings": [], "points": True}


def _named(layers: list[str]) -> str:
    return f"layer{'s' if len(layers) > 1 else ''} " + " and ".join(repr(on) for on in layers)


def _joined(lines: list[Array]) -> list[Array]:
    """Lines that meet at their ends, made one."""
    rest, whole = list(lines), []
    while rest:
        line = rest.pop(0)
        grown = True
        while grown and np.hypot(*(line[0] - line[-1])) > MEET_MM:
            grown = False
            for i, other in enumerate(rest):
                for there in (other, other[::-1]):
                    if np.hypot(*(line[-1] - there[0])) <= MEET_MM:
                        line = np.vstack([line, there[1:]])
                    elif np.hypot(*(line[0] - there[-1])) <= MEET_MM:
                        line = np.vstack([there[:-1], line])
                    else:
                        continue
                    rest.pop(i)
                    grown = True
                    break
                if grown:
                    break
        whole.append(line)
    return whole


def _turn(points: Array, mirrored: bool, name: str) -> Any:
    """Turns points so that the plank's length lies along x, by a quarter turn at most, and sets its first end at 0."""
    try:
        _, length, angle = least_strip(points)
    except BadPlank as error:
        raise BadMarks(f"{name}: {error}") from error
    if not LEAST_MM <= length <= MOST_MM:
        raise BadMarks(f"{name}: the plank comes out {length:g} mm long; name the file's unit if that is wrong.")
    cos, sin = math.cos(angle), math.sin(angle)
    matrix = np.array([[cos, -sin], [sin, cos]])
    if mirrored:  # turned over about its long side's square: the last end comes first
        matrix = matrix @ np.diag([-1.0, 1.0])
    low = (points @ matrix).min(axis=0)
    return lambda line: np.asarray(line, dtype=float) @ matrix - low


def _parted(outline: Array, name: str) -> tuple[Array, Array]:
    """A closed outline parted at its four corners into lower and upper edge; a pointed end is one corner."""
    line = outline[:-1] if np.hypot(*(outline[0] - outline[-1])) <= MEET_MM else outline
    if _area(line) < 0:
        line = line[::-1]
    s = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(np.vstack([line, line[:1]]), axis=0).T))])
    round_ = s[-1]
    at = np.union1d(np.arange(0.0, round_, 1.0), s[:-1])

    def place(d: Array) -> Array:
        ring = np.vstack([line, line[:1]])
        return np.column_stack([np.interp(d % round_, s, ring[:, k]) for k in (0, 1)])

    reach = min(CORNER_MM, 0.2 * float(np.ptp(line[:, 1])))
    here, before, after = place(at), place(at - reach), place(at + reach)
    one, other = here - before, after - here
    turn = np.degrees(np.arctan2(one[:, 0] * other[:, 1] - one[:, 1] * other[:, 0], np.sum(one * other, axis=1)))
    length = float(np.ptp(line[:, 0]))
    cuts = []
    for first in (True, False):
        end = here[:, 0].min() if first else here[:, 0].max()
        near = np.abs(here[:, 0] - end) < min(0.2 * length, 0.75 * float(np.ptp(line[:, 1])) + 0.02 * length)
        sharp = np.flatnonzero(near & (np.abs(turn) > CORNER_DEG))
        # of every run of places that turn, the corner is where it turns most
        runs = np.split(sharp, np.flatnonzero(np.diff(at[sharp]) > reach) + 1) if sharp.size else []
        sharp = np.array([run[int(np.argmax(np.abs(turn[run])))] for run in runs], dtype=np.intp)
        tip = int(np.argmin(np.abs(here[:, 0] - end)))
        # round the outline leftwards: at the first end from upper edge to lower, at the last from lower to upper
        order = (at[sharp] - at[tip] + round_ / 2) % round_ if sharp.size else np.array([])
        cuts.append((at[sharp[int(np.argmin(order))]], at[sharp[int(np.argmax(order))]]) if sharp.size
                    else (at[tip], at[tip]))  # fmt: skip
    (upper_first, lower_first), (lower_last, upper_last) = cuts
    lower, upper = (
        _between(place, at, lower_first, lower_last, round_),
        _between(place, at, upper_last, upper_first, round_),
    )
    edges = _along(lower), _along(upper[::-1])
    if min(float(np.ptp(edge[:, 0])) for edge in edges) < 0.5 * length:
        raise BadMarks(f"{name}: the outline has no two long edges that could be told apart; draw the two edges as "
                       "open lines instead.")  # fmt: skip
    return edges


def _between(place: Any, at: Array, start: float, end: float, round_: float) -> Array:
    run = (end - start) % round_
    inside = np.sort((at - start) % round_)
    inside = inside[inside < run]
    return np.asarray(place(start + np.append(inside, run)))


def _along(line: Array) -> Array:
    """The line from its first end, where x is least; steps back along it are left out."""
    if line[-1, 0] < line[0, 0]:
        line = line[::-1]
    highest = np.maximum.accumulate(line[:, 0])
    keep = np.concatenate([[True], np.diff(highest) > 1e-9])
    return np.asarray(line[keep])


def _step(line: Array) -> tuple[float, float] | None:
    """Where an edge steps, and by how much [mm]; None where it runs on."""
    at = np.arange(line[0, 0] + 2 * CORNER_MM, line[-1, 0] - 2 * CORNER_MM, 2.0)
    if at.size < 8:
        return None
    y = np.interp(at, *line.T)
    steps = y[4:] - y[:-4]
    steps = steps - np.median(steps)
    most = int(np.argmax(np.abs(steps)))
    return (float(at[most + 2]), float(abs(steps[most]))) if abs(steps[most]) > STEP_MM else None


def _edge_marks(edge: Edge, line: Array, as_they_are: bool, taken: list[SpilingMark]) -> Iterator[SpilingMark]:
    if as_they_are:
        at = line[:, 0]
    else:  # close together at the ends, where the plank is cut
        share = np.linspace(0, 1, POINTS)
        at = line[0, 0] + np.ptp(line[:, 0]) * share
    others = np.array([mark.x_mm for mark in taken if mark.edge == edge])
    for i, x in enumerate(at):
        if not (others.size and np.min(np.abs(others - x)) < 1.0):
            yield SpilingMark("", edge, "offset", float(x), float(np.interp(x, *line.T)), point=f"t{i + 1}",
                              side=1 if edge == "upper" else -1)  # fmt: skip


def _frame_marks(line: Array, lower: Array, upper: Array, labels: list[tuple[str, Array]]) -> list[SpilingMark]:
    """Where a labelled frame line crosses both edges; none where it does not."""
    a, b = (line[0], line[-1]) if line[0, 1] <= line[-1, 1] else (line[-1], line[0])
    span = b - a
    if not labels or span[1] < 5.0:
        return []
    reach = float(np.hypot(*span))
    near = [(float(np.min(np.hypot(*(np.linspace(a, b, 9) - at).T))), text) for text, at in labels if text]
    distance, text = min(near, default=(math.inf, ""))
    if distance > max(0.5 * reach, 60.0):
        return []
    found = []
    for edge, curve in (("lower", lower), ("upper", upper)):
        # drawn on by a tenth beyond its ends: it may stop at the edge
        share = np.linspace(-0.1, 1.1, 481)
        along = a + share[:, None] * span
        inside = (along[:, 0] >= curve[0, 0]) & (along[:, 0] <= curve[-1, 0])
        off = along[:, 1] - np.interp(along[:, 0], *curve.T)
        change = np.flatnonzero(inside[:-1] & inside[1:] & (off[:-1] <= 0) & (off[1:] > 0))
        if not change.size:
            return []
        i = int(change[0])
        part = float(-off[i] / (off[i + 1] - off[i]))
        x, y = along[i] + part * (along[i + 1] - along[i])
        found.append(SpilingMark(text.split()[0], edge, "offset", float(x), float(y),  # type: ignore[arg-type]
                                 side=1 if edge == "upper" else -1))  # fmt: skip
    return found


def _area(line: Array) -> float:
    x, y = line.T
    return float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y) / 2)

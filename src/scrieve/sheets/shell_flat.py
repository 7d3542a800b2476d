"""The shell drawn out flat on the page, its strakes hatched by state, and the tables of a lining."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from scrieve.planking import EndJoint, Lining, drawn_flat
from scrieve.sheets.bench import Table
from scrieve.sheets.drawing import Drawing, Hatch, HatchStyle, Item, Line, Text, one_to, polyline, shorten
from scrieve.sheets.figures import length, sized, thin, thin_unit, unit
from scrieve.units import Units

_LETTER_MM = 2.2
_ROOM_MM = (180.0, 90.0)
#: Across, the drawing is stretched by one of these, so that strakes can be told apart on a long hull.
_ACROSS = (1.0, 1.5, 2.0, 2.5, 3.0)
#: How a strake of each state is hatched; one that is only lined off stays blank.
HATCHES: Mapping[str, HatchStyle] = {
    "to be renewed": "diagonal", "a plank": "cross", "of an earlier lining": "back", "laid on a board": "upright",
    "cut": "level",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class ShellPlank:
    """A plank that has been made of a length of a strake: its name, its state as in `HATCHES`, where it leads to."""

    name: str
    strake: int
    first_mm: float
    last_mm: float
    state: str = "a plank"
    link: str = ""


def shell_flat_drawing(
    lining: Lining,
    states: Mapping[int, str] | None = None,
    joints: Sequence[EndJoint] = (),
    breached: Collection[EndJoint] = (),
    units: Units = "mm",
    link: Callable[[int], str] = lambda strake: "",
    planks: Sequence[ShellPlank] = (),
) -> Drawing:
    """Return the shell drawn out flat: stations across, girths up, the bow to the left.

    Parameters
    ----------
    lining : Lining
        The side lined off.
    states : mapping of strake -> state, optional
        As in `HATCHES`; strakes of other states are not hatched.
    joints, breached : EndJoint
        Butts to draw, and those of them that breach a rule: ringed with a cross.
    link : callable
        Address that a strake leads to.
    planks : sequence of ShellPlank
        Those made already: each is hatched by its own state and leads to its own page; what is left of its strake is
        hatched by that of the strake.
    """
    left_over = _left_over(lining, planks)
    ends = [(plank.strake, plank.first_mm, plank.last_mm) for plank in planks]
    flat = drawn_flat(lining, [(joint.strake, joint.x_mm) for joint in joints], [*ends, *left_over])
    every = np.concatenate([line.points_mm for line in flat.strakes])
    (left, low), (right, high) = every.min(axis=0), every.max(axis=0)
    stretch = next((k for k in reversed(_ACROSS) if k * (high - low) <= 0.45 * (right - left)), 1.0)
    scale = np.array([1.0, stretch])
    n = one_to(float(right - left), float(high - low) * stretch, _ROOM_MM)
    h = _LETTER_MM * n
    items: list[Item] = []
    for strake in flat.strakes:
        state = (states or {}).get(strake.number, "")
        title = f"{strake.name}{', ' + state if state else ''}: {_widths(lining, strake.number, units)}"
        points = strake.points_mm * scale
        whole = all(plank.strake != strake.number for plank in planks)
        rest = [part.points_mm * scale for part in flat.parts[len(planks) :] if part.number == strake.number]
        if state in HATCHES:
            items += [Hatch(each, HATCHES[state], 2.2 * n) for each in ([points] if whole else rest)]
        items.append(polyline(points, "LAMINATIONS", closed=True, link=link(strake.number), title=title))
    for plank, part in zip(planks, flat.parts, strict=False):
        points = part.points_mm * scale
        title = f"plank {plank.name}, {plank.state}: {_widths(lining, plank.strake, units, plank)}"
        items.append(Hatch(points, HATCHES[plank.state], 2.2 * n))
        items.append(polyline(points, "LAMINATIONS", closed=True, link=plank.link, title=title))
    items += [polyline(seam.points_mm * scale, "SEAM EDGE", title=seam.name) for seam in flat.seams]
    free = -np.inf
    for frame in flat.frames:
        foot, head = frame.points_mm * scale
        title = f"frame {frame.name}: girth {sized(float(np.ptp(frame.points_mm[:, 1])), units)}"
        items.append(Line(_pt(foot), _pt(head), "WATERLINES", title=title))
        if foot[0] >= free:
            label = Text(
                (float(foot[0]), float(low) * stretch - 1.4 * h), shorten(frame.name, 6), h, "TEXT", "middle", "top"
            )
            items.append(label)
            free = foot[0] + label.width_mm + 0.8 * h
    items += [polyline(nib.points_mm * scale, "FRAME MARKS", title=nib.name) for nib in flat.nibs]
    bad = {(joint.strake, round(joint.x_mm, 3)) for joint in breached}
    for butt in flat.butts:
        points = butt.points_mm * scale
        wrong = (butt.number, round(float(points[0, 0]), 3)) in bad
        title = f"{butt.name} at station {sized(float(points[0, 0]), units)}{': breaches a rule' if wrong else ''}"
        items.append(polyline(points, "JIG FACE", title=title))
        if wrong:
            (x, _), y, arm = points[0], float(points[:, 1].mean()), 0.9 * h
            items += [Line((float(x) - arm, y - s * arm), (float(x) + arm, y + s * arm), "MARKS", title=title)
                      for s in (-1, 1)]  # fmt: skip
    for name in flat.names:
        here = next((plank for plank in planks if plank.strake == int(name.text)
                     and plank.first_mm <= name.x_mm <= plank.last_mm), None)  # fmt: skip
        to, title = (here.link, f"plank {here.name}") if here else (link(int(name.text)), f"strake {name.text}")
        items.append(Text((name.x_mm, name.girth_mm * stretch), name.text, h, "FIGURES", "middle", "middle", link=to,
                          title=title))  # fmt: skip
    across = f"; girths drawn {stretch:g} times the stations' scale" if stretch != 1 else ""
    return Drawing(tuple(items), f"Shell drawn out flat, bow to the left{across}", n, (1.0, stretch))


def _left_over(lining: Lining, planks: Sequence[ShellPlank]) -> list[tuple[int, float, float]]:
    """Lengths of those strakes of which planks have been made, that are of none of them: strake, first, last [mm]."""
    found = []
    for number in {plank.strake for plank in planks}:
        reaches = np.flatnonzero(np.isfinite(lining.width_mm[number - 1]))
        at, end = lining.frames[reaches[0]].x_mm, lining.frames[reaches[-1]].x_mm
        for plank in sorted((one for one in planks if one.strake == number), key=lambda one: one.first_mm):
            if plank.first_mm - at > 1.0:
                found.append((number, at, plank.first_mm))
            at = max(at, plank.last_mm)
        if end - at > 1.0:
            found.append((number, at, end))
    return found


def lining_tables(lining: Lining, units: Units = "mm") -> tuple[Table, ...]:
    """Return widths, marks (girths, heights, half-breadths) and fairness of a lining, in the builder's units."""
    seams = range(lining.strakes + 1)
    heads = ("frame", *(_seam_name(lining, j) for j in seams))
    marks = []
    for name, title, values in (
        ("girth", "Seams: girth from the heel", lining.girth_mm),
        ("height", "Seams: height", lining.height_mm),
        ("half_breadth", "Seams: half-breadth", lining.half_breadth_mm),
    ):
        rows = tuple(
            (
                _frame_name(lining, k, units),
                *(length(values[j, k] if lining.drawn[j, k] else None, units) for j in seams),
            )
            for k in range(len(lining.frames))
        )
        note = "On the face of the frames, in " + unit(units) + ". A dash: the seam has ended at a nib."
        marks.append(Table(f"{title} ({unit(units)})", heads, rows, note, name=name))
    return _widths_table(lining, units), *marks, _fairness_table(lining, units)


def _widths_table(lining: Lining, units: Units) -> Table:
    heads = ("frame", *(str(j + 1) for j in range(lining.strakes)))
    rows = tuple(
        (_frame_name(lining, k, units), *(length(_some(width), units) for width in lining.width_mm[:, k]))
        for k in range(len(lining.frames))
    )
    note = "Along the frame, as a tape reads them; strake 1 is the lowest. A dash: the strake does not reach so far."
    return Table(f"Widths of the strakes ({unit(units)})", heads, rows, note, name="widths")


def _fairness_table(lining: Lining, units: Units) -> Table:
    small = thin_unit(units)
    heads = ("seam", f"off straight ({small})", "at", f"equal division ({small})", f"greatest step ({small})", "turns",
             f"least radius edgewise ({unit(units)})", f"with the hull ({unit(units)})")  # fmt: skip
    rows = tuple(
        (
            _seam_name(lining, fair.seam), thin(fair.off_mm, units), fair.off_at.removeprefix("frame "),
            thin(plain.off_mm, units), thin(fair.change_mm, units), str(fair.turns),
            _radius(fair.edge_radius_mm, units), _radius(fair.bend_radius_mm, units),
        )
        for fair, plain in list(zip(lining.fairness, lining.equal, strict=True))[1:-1]
    )  # fmt: skip
    note = (
        "Off straight: the greatest second difference of three neighbouring marks within the surface, which a batten "
        "laid flat on the hull would have to take edgewise; beside it that of equal division. Greatest step: how it "
        "changes from frame to frame, which shows a bump."
    )
    return Table("How fair each seam is", heads, rows, note, name="fairness")


def _frame_name(lining: Lining, k: int, units: Units) -> str:
    frame = lining.frames[k]
    return frame.label or f"at {sized(frame.x_mm, units)}"


def _seam_name(lining: Lining, j: int) -> str:
    """Seam 3 lies between strakes 3 and 4."""
    return {0: "lower edge", lining.strakes: "upper edge"}.get(j, f"{j}/{j + 1}")


def _widths(lining: Lining, strake: int, units: Units, plank: ShellPlank | None = None) -> str:
    width = lining.width_mm[strake - 1]
    if plank is not None:
        x = np.array([frame.x_mm for frame in lining.frames])
        inside = (x >= plank.first_mm - 1.0) & (x <= plank.last_mm + 1.0) & np.isfinite(width)
        width = width[inside] if inside.any() else width
    return f"{sized(float(np.nanmin(width)), units)} to {sized(float(np.nanmax(width)), units)} wide"


def _radius(mm: float, units: Units) -> str:
    return "over 1 km" if mm > 1e6 else length(mm, units)


def _some(mm: float) -> float | None:
    return float(mm) if np.isfinite(mm) else None


def _pt(p: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> tuple[float, float]:
    return float(p[0]), float(p[1])

"""How the place of a mark came of what was read: its readings, how well they agree, and its error."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np

from scrieve.boat import Boat
from scrieve.takeoff.marks import Mark
from scrieve.units import format_angle
from scrieve.wording import Length, by_itself, length, small, tell
from scrieve.working import Working

Inputs = list[tuple[str, str]]

_PAGE = "docs/taking-off.md"
_MEET = "the point where Σ((its distance from each − what was read)/σ)² is least"


def placed_working(mark: Mark, boat: Boat) -> Working | None:
    """How height and half-breadth of a mark came about; None for an offset, which was read as it stands.

    Parameters
    ----------
    mark : Mark
        As stored, with what was read in `raw`.
    boat : Boat
        Its measuring error stands for readings without one.
    """
    teller = _TELLERS.get(mark.way)
    if teller is None or not mark.readings or not mark.found:
        return None
    try:
        formula, source, inputs = teller(mark.readings, mark.found)
    except (KeyError, TypeError, ValueError):  # kept by another program, in words of its own
        return None
    across, up = np.sqrt(np.diag(mark.covariance_mm2(boat.sigma_mm)))
    axes = np.sqrt(np.maximum(np.linalg.eigvalsh(mark.covariance_mm2(boat.sigma_mm)), 0))
    error = tell(
        "{up} up and down, {across} in and out; its ellipse {least} by {most}",
        up=small(up),
        across=small(across),
        least=small(axes[0]),
        most=small(axes[1]),
    )
    place = _place((mark.half_breadth_mm, mark.height_mm))
    return Working("place of the mark", place, formula, (*inputs, ("error, 1 sd", error)), source)


def _place(at: Sequence[float]) -> str:
    return tell("{z} up, {y} out", z=length(at[1], 1), y=length(at[0], 1))


def _read(mm: float) -> str:
    return by_itself(Length(float(mm), None))


def _side(read: Mapping[str, Any], found: Mapping[str, Any]) -> Inputs:
    """On which side the hull was said to lie, and the point on the other."""
    inputs: Inputs = [("the hull lies", str(read["lies"]))] if read.get("lies") else []
    if found.get("other_mm"):
        inputs.append(("on the other side it would be", _place(found["other_mm"])))
    return inputs


def _ordinate(read: Mapping[str, Any], found: Mapping[str, Any]) -> tuple[str, str, Inputs]:
    inputs = [
        ("straight-edge from", _place(read["from_mm"])),
        ("to", _place(read["to_mm"])),
        ("along", _read(read["along_mm"])),
        ("off", _read(read["off_mm"])),
    ]
    formula = "first end + along × u + off × n, u along the straight-edge, n square to it"
    return formula, f"{_PAGE}, 'Ordinate'", inputs + _side(read, found)


def _distances(
    word: str, names: Sequence[str], known: Sequence[Sequence[float]], lengths: Sequence[float],
    read: Mapping[str, Any], found: Mapping[str, Any],
) -> tuple[str, str, Inputs]:  # fmt: skip
    many = len(lengths) > 2
    inputs = []
    for name, at, reach, off in zip(names, known, lengths, found["residuals_mm"], strict=True):
        told = tell("{r}, from {at}", r=_read(reach), at=_place(at))
        if many:
            told = tell("{told}; off by {off}", told=told, off=small(off))
        inputs.append((f"{word} {name}", told))
    inputs.append(("they cross at", format_angle(found["crossing_rad"])))
    return _MEET, f"{_PAGE}, 'Tapes and arcs'", inputs + _side(read, found)


def _tapes(read: Mapping[str, Any], found: Mapping[str, Any]) -> tuple[str, str, Inputs]:
    return _distances("tape from nail", read["nails"], read["nails_mm"], read["tapes_mm"], read, found)


def _template(read: Mapping[str, Any], found: Mapping[str, Any]) -> tuple[str, str, Inputs]:
    x, y = read["point_mm"]
    inputs = [("on the template", tell("{x} across, {y} up", x=_read(x), y=_read(y)))]
    for n, (drawn, known, off) in enumerate(
        zip(read["drawn_mm"], read["known_mm"], found["residuals_mm"], strict=True), start=1
    ):
        told = tell(
            "{x} across, {y} up on it, {known} on the hull; off by {off}",
            x=_read(drawn[0]), y=_read(drawn[1]), known=_place(known), off=small(float(np.hypot(*off))),
        )  # fmt: skip
        inputs.append((f"reference mark {n}", told))
    inputs.append(("laid turned over", "yes" if found["turned"] else "no"))
    formula = "the template turned and moved on to its reference marks by least squares"
    return formula, f"{_PAGE}, 'Template'", inputs


def _arc(read: Mapping[str, Any], found: Mapping[str, Any]) -> tuple[str, str, Inputs]:
    if read["how"] == "arc":
        names = [str(n) for n in range(1, len(read["openings_mm"]) + 1)]
        return _distances("arc", names, read["centres_mm"], read["openings_mm"], read, found)
    if read["how"] == "block":
        at, formula = read["edge_mm"][read["number"] - 1], "mark on the mould's edge + width × n, n square to the edge"
        inputs = [("mark on the edge", _place(at)), ("width of the block", _read(read["opening_mm"]))]
        return formula, f"{_PAGE}, 'Block'", inputs + _side(read, found)
    inputs = [("mark on the mould", _place(read["at_mm"])), ("written offset", _read(read["opening_mm"]))]
    source = "docs/formats.md, 'Arcs, blocks and written offsets'"
    return "mark on the mould + offset, the way that the hull lies", source, inputs + _side(read, found)


_TELLERS: Mapping[str, Callable[[Mapping[str, Any], Mapping[str, Any]], tuple[str, str, Inputs]]] = {
    "ordinates": _ordinate,
    "tapes": _tapes,
    "templates": _template,
    "arcs": _arc,
}

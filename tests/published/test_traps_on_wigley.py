"""Blunders planted in the Wigley hull, y = (B/2)(1 − (2x/L)²)(1 − (z/T)²), are named; the clean hull is left in peace.

Source of the form: the analytic test hull of ship hydrodynamics (wigley.py). Frames every 600 mm, a mark every T/12.
"""

from dataclasses import replace

import numpy as np
import pytest

from scrieve.boat import Boat
from scrieve.takeoff.marks import Mark
from scrieve.takeoff.traps import traps

L, B, T = 15000.0, 3000.0, 1200.0
BOAT = Boat("Wigley", half_beam_mm=B / 2)
KINDS = {0: "heel", 12: "head"}


def wigley(base=0.0, side=""):
    marks = []
    for frame, x in enumerate(np.arange(-6600, 6601, 600.0), start=1):
        for level, z in enumerate(np.linspace(-T, 0, 13)):
            y = B / 2 * (1 - (2 * x / L) ** 2) * (1 - (z / T) ** 2)
            number = len(marks) + 1
            marks.append(
                Mark(
                    str(frame), float(x), float(z + T + base), float(y), side,
                    f"WL {level}", kind=KINDS.get(level, ""), number=number, line=number + 1,
                )
            )  # fmt: skip
    return marks


def planted(place, **change):
    marks = wigley()
    marks[place] = replace(marks[place], **change)
    return marks, marks[place]


@pytest.mark.parametrize("base", [0.0, 150.0, 2000.0])
@pytest.mark.parametrize("noise", [0.0, 3.0])
def test_clean(base, noise):
    rng = np.random.default_rng(2)
    marks = []
    for m in wigley(base, "P") + wigley(base, "S"):
        up, out = rng.normal(0, noise, 2)
        marks.append(replace(m, height_mm=m.height_mm + up, half_breadth_mm=abs(m.half_breadth_mm + out)))
    assert traps(marks, BOAT) == ()


def test_each_blunder_is_named_by_its_kind_and_mark():
    midship, there = 11 * 13, wigley()
    below, above = there[midship + 2], there[midship + 9]
    cases = {
        "half-beam": planted(midship + 9, half_breadth_mm=above.half_breadth_mm + 304.8),
        "duplicate": ([*there, replace(above, number=900, label="x")], above),
        "label twice": planted(midship + 9, label="WL 3"),
        "station unit": ([replace(m, station_mm=3.6) if m.frame == "18" else m for m in there], there[17 * 13]),
        "station": ([replace(m, station_mm=-5000.0) if m.frame == "18" else m for m in there], there[17 * 13]),
        "order": ([*there[: midship + 2], *there[midship + 3 : midship + 8], below, *there[midship + 8 :]], below),
    }  # fmt: skip
    for kind, (marks, mark) in cases.items():
        (found,) = traps(marks, BOAT)
        assert found.kind == kind
        assert mark.number in found.numbers


def test_every_mark_changed_over_that_moves_far_is_named():
    """A mark that moves by more than four steps of the marks, square to y = z, at the frames between the quarters."""
    clean, named, tried = wigley(base=1500.0), 0, 0
    for i in range(6 * 13, 17 * 13, 5):
        marks = list(clean)
        marks[i] = replace(clean[i], height_mm=clean[i].half_breadth_mm, half_breadth_mm=clean[i].height_mm)
        if abs(clean[i].height_mm - clean[i].half_breadth_mm) / np.sqrt(2) < 4 * 180:
            continue
        tried += 1
        named += [found.numbers for found in traps(marks, Boat("Wigley"))] == [(i + 1,)]
    assert tried > 15
    assert named == tried


def test_the_whole_table_changed_over():
    marks = [replace(m, height_mm=m.half_breadth_mm, half_breadth_mm=m.height_mm) for m in wigley()]
    (found,) = traps(marks, Boat("Wigley"))
    assert (found.kind, len(found.numbers)) == ("swapped", len(marks))

"""One mark moved: the quick answer is that of fairing all over again. A law; it needs no source."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from scrieve.boat import Boat
from scrieve.errors import CannotFair
from scrieve.fairing import FairHull, fair, moved
from scrieve.takeoff.marks import Mark

BOAT = Boat("Teal", sigma_mm=1.5)


def _marks(boat: Boat = BOAT) -> list[Mark]:
    """A plain round hull with seeded errors: 13 frames of 10 marks."""
    rng = np.random.default_rng(7)
    marks = []
    for k, x in enumerate(np.linspace(0, 7200, 13)):
        beam = 1100 * (1 - ((x - 3900) / 4800) ** 2)
        for t in np.linspace(0, np.pi / 2, 10):
            off = rng.normal(0, boat.sigma_mm, 2)
            kind = "heel" if t == 0 else "head" if t > 1.57 else ""
            y, z = 40 + beam * np.sin(t) + off[0], 900 * (1 - np.cos(t)) + off[1]
            marks.append(Mark(str(k + 1), float(x), float(z), abs(float(y)), kind=kind, number=len(marks) + 1))
    return marks


@pytest.fixture(scope="module")
def hull() -> FairHull:
    return fair(_marks(), BOAT)


@pytest.mark.parametrize(("number", "out_mm"), [(65, 2.0), (65, 30.0), (61, 4.0), (70, 0.0)])
def test_moved_is_the_hull_faired_again(hull: FairHull, number: int, out_mm: float) -> None:
    marks = _marks()
    mark = marks[number - 1]
    marks[number - 1] = replace(mark, half_breadth_mm=mark.half_breadth_mm + out_mm)
    quick = moved(hull, number, mark.half_breadth_mm + out_mm, mark.height_mm)
    slow = fair(marks, BOAT)
    assert {off.number for off in quick.suspects} == {off.number for off in slow.suspects}
    for label in ("1", "6", "7", "13"):
        # the stiffness is not learnt anew: a twentieth of the measuring error is allowed for that
        assert quick.section(label).points_mm == pytest.approx(slow.section(label).points_mm, abs=0.075)


def test_there_and_back_again(hull: FairHull) -> None:
    mark = _marks()[64]
    away = moved(hull, 65, mark.half_breadth_mm + 200.0, mark.height_mm)
    assert [off.number for off in away.suspects] == [65]
    back = moved(away, 65, mark.half_breadth_mm, mark.height_mm)
    assert not back.suspects
    assert [off.residual_mm for off in back.offs] == pytest.approx([off.residual_mm for off in hull.offs], abs=0.02)


def test_a_mark_to_the_outside_of_planking_is_moved_outside() -> None:
    boat = Boat("Teal", planking="outside", thickness_mm=20.0, sigma_mm=1.5)
    outside = fair(_marks(boat), boat)
    mark = _marks(boat)[64]
    same = moved(outside, 65, mark.half_breadth_mm, mark.height_mm)
    assert same.section("7").points_mm == pytest.approx(outside.section("7").points_mm, abs=0.05)


def test_what_cannot_be_moved_is_told(hull: FairHull) -> None:
    with pytest.raises(CannotFair, match=r"mark 999 is not among the marks"):
        moved(hull, 999, 1.0, 1.0)
    with pytest.raises(CannotFair, match=r"mark 65: give its half-breadth and height"):
        moved(hull, 65, float("nan"), 1.0)


def test_a_mark_counts_by_its_own_covariance() -> None:
    """A mark known to 0.3 mm across the line and 30 mm along it holds the line; one known the other way does not."""
    marks = _marks()
    place = 64
    mark = marks[place]
    plain = fair(marks, BOAT)
    line = plain.section(mark.frame)
    near = int(np.argmin(np.hypot(*(line.points_mm - (mark.half_breadth_mm, mark.height_mm)).T)))
    along = np.gradient(line.points_mm, axis=0)[near]
    along /= np.hypot(*along)
    normal = np.array([along[1], -along[0]])
    off = mark.half_breadth_mm + 6 * normal[0], mark.height_mm + 6 * normal[1]

    def at(across_mm: float, along_mm: float) -> float:
        cover = across_mm**2 * np.outer(normal, normal) + along_mm**2 * np.outer(along, along)
        marks[place] = replace(
            mark, half_breadth_mm=off[0], height_mm=off[1], sigma_mm=float(np.sqrt(np.trace(cover) / 2)),
            var_half_breadth_mm2=cover[0, 0], var_height_mm2=cover[1, 1], cov_mm2=cover[0, 1],
        )  # fmt: skip
        hull = fair(marks, BOAT, answers={mark.number: "keep"})
        return float((hull.section(mark.frame).points_mm[near] - line.points_mm[near]) @ normal)

    assert at(0.3, 30.0) > 3.0
    assert abs(at(30.0, 0.3)) < 1.0  # what the line loses with the mark itself

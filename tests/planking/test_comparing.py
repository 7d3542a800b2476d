"""Spiled against expanded: one plank, moved and marked, is found to be the same; what was put wrong is found again."""

import numpy as np
import pytest
from hulls import FramedWigley

from scrieve.errors import BadPlank
from scrieve.planking import (
    SeamMark,
    SpilingBatten,
    SpilingChoice,
    SpilingMark,
    StrakeChoice,
    compare_planks,
    design_plank,
    design_spiled_plank,
)

FRAMES = [str(frame) for frame in range(9, 22)]
EXPANDED = design_plank(
    FramedWigley(),
    StrakeChoice("topside 3", *(tuple(SeamMark(z, "height", f) for f in FRAMES) for z in (-500.0, -360.0)), 28.0),
)


def spiled(bend_mm=0.0, slip_mm=0.0, hand=1.0, name="spiled"):
    """The expanded plank's frame points on a batten that lies 300 mm along, 20 mm down and 2° askew."""
    a = np.radians(2.0)
    turn = np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]])
    marks = []
    for frame in EXPANDED.frames:
        for edge in ("lower", "upper"):
            x, y = getattr(frame, f"{edge}_mm")
            y += bend_mm * (1 - (2 * x / EXPANDED.lower_mm[-1, 0] - 1) ** 2)
            y += slip_mm if (frame.label, edge) == ("14", "upper") else 0.0
            x, y = (np.array([x, hand * y]) @ turn) + [300, -20]
            on = edge if hand > 0 else {"lower": "upper", "upper": "lower"}[edge]
            marks.append(SpilingMark(frame.label, on, "offset", float(x), float(y)))
    return design_spiled_plank(
        SpilingBatten(tuple(marks)), SpilingChoice(name, 28.0, tolerance_mm=0.0, keep=("14 upper",))
    )


def test_one_plank_compares_equal_wherever_the_batten_lay():
    found = compare_planks(spiled(), EXPANDED)
    assert found.greatest_mm < 0.1
    assert [row.label for row in found.frames] == FRAMES
    assert max(abs(row.width_mm) for row in found.frames) < 0.01
    assert all(check.ok for check in found.checks)


def test_a_batten_sprung_edgewise_shows_as_its_bow():
    found = compare_planks(spiled(bend_mm=8.0), EXPANDED)
    assert found.bow_mm == pytest.approx(8, abs=0.3)
    assert max(abs(row.width_mm) for row in found.frames) < 0.2  # both edges moved alike
    assert {check.name for check in found.checks if not check.ok} == {
        "Spiled against the hull", "Bow of the one against the other"}  # fmt: skip


def test_a_wrong_point_is_found_at_its_frame():
    found = compare_planks(spiled(slip_mm=6.0), EXPANDED)
    worst = max(found.frames, key=lambda row: abs(row.upper_mm))
    assert worst.label == "14"
    assert worst.upper_mm == pytest.approx(6, abs=1.0)  # the fit takes up some of it
    assert worst.width_mm == pytest.approx(6, abs=0.1)
    assert max(abs(row.lower_mm) for row in found.frames) < 1.0


def test_a_plank_drawn_from_the_other_face_is_told():
    found = compare_planks(spiled(hand=-1.0), EXPANDED)
    assert found.turned_over
    assert not compare_planks(spiled(), EXPANDED).turned_over


def test_planks_that_share_nothing_are_not_compared():
    short = design_spiled_plank(
        SpilingBatten(tuple(SpilingMark("", edge, "offset", x, y, point=str(i))
                            for edge, y in (("lower", 0.0), ("upper", 100.0))
                            for i, x in enumerate((0.0, 500.0, 1000.0)))),
        SpilingChoice("short", 28.0),
    )  # fmt: skip
    with pytest.raises(BadPlank, match=r"share 0 frame\(s\), and are 1000 and \d+ mm long; mark two frames"):
        compare_planks(short, EXPANDED)

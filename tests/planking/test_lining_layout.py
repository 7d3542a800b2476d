"""The shell whose butts are planned, from a lining: true lengths, frames that bear no marks, strakes that stay."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hulls import ConeHull

from scrieve.errors import BadPlank
from scrieve.planking import (
    EndJoint,
    LiningChoice,
    PlankStock,
    PlanSettings,
    Stealer,
    breaches,
    butt_rules,
    line_off,
    plan_butts,
)
from scrieve.planking.lining.layout import shell_layout, wide_bays

CONE = LiningChoice("side", narrowest_mm=60, end_narrowest_mm=50, widest_mm=300, strakes=10)


@pytest.fixture(scope="module")
def lining():
    return line_off(ConeHull(), CONE)


def test_lengths_on_a_cone_are_those_of_its_straight_lines(lining):
    # Closed form: strakes of equal width lie along straight lines of the cone, dx·√(1 + R'²) long.
    layout = shell_layout(lining)
    first, last = (frame.x_mm for frame in (lining.frames[0], lining.frames[-1]))
    slope = np.diff(ConeHull().radius(np.array([first, last])))[0] / (last - first)
    for run in layout.strakes:
        assert run.length_to(run.last_mm) == pytest.approx((last - first) * np.hypot(1, slope), abs=0.05)
        assert run.length_to(run.last_mm) > last - first + 1
        assert (run.first_mm, run.last_mm) == (first, last)


def test_a_stealer_is_as_long_as_it_reaches():
    frames = list(ConeHull().stations)
    choice = replace(CONE, stealers=(Stealer(5, "first", frames[4], 30),))
    layout = shell_layout(line_off(ConeHull(), choice))
    assert layout.run(5).first_mm == ConeHull().stations[frames[4]]
    assert layout.run(4).first_mm == layout.run(6).first_mm < layout.run(5).first_mm


def test_a_frame_without_marks_is_told_of_or_asked_for(lining):
    frames = [frame for frame in lining.frames if frame.label]
    fewer = replace(lining, frames=tuple(replace(f, label="") if f is frames[3] else f for f in lining.frames))
    (wide,) = wide_bays(shell_layout(fewer))
    assert wide == f"{frames[2].label}-{frames[4].label}"
    again = shell_layout(fewer, frames=[(frames[3].label, frames[3].x_mm), ("far off", 1e6)])
    assert again.frames == shell_layout(lining).frames
    assert wide_bays(again) == ()


def test_strakes_that_stay_keep_their_joints_and_the_plan_keeps_clear_of_them(lining):
    layout = shell_layout(lining, renew=(4, 5))
    low, high = layout.frames[0][1], layout.frames[-1][1]
    x = [station for _, station in layout.frames]
    middle = next((a + b) / 2 for a, b in pairwise(x) if b > (low + high) / 2)
    layout = shell_layout(lining, [EndJoint(3, middle)], renew=(4, 5))
    longest = max(run.length_to(run.last_mm) for run in layout.strakes)
    plan = plan_butts(
        layout, [PlankStock(0.75 * longest)], butt_rules("small yacht"), PlanSettings(seconds=2, workers=2)
    )
    assert breaches(plan.layout, plan.rules) == ()
    assert {plank.strake for plank in plan.planks} == {4, 5}
    assert plan.joints == plan.bound == 3, "two new ones at least: neither strake can be made in one length"


def test_a_strake_that_is_not_there_is_named(lining):
    with pytest.raises(BadPlank, match=r"strake 11 is to be renewed; the lining has strakes 1 to 10"):
        shell_layout(lining, renew=(11,))

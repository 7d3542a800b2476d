"""Ripping the blank: arithmetic by hand, and the two hands as mirror images."""

import math

import numpy as np
import pytest
from sections import circle

from scrieve.errors import BadLamination
from scrieve.frames.choice import FrameChoice
from scrieve.frames.design import design_frame
from scrieve.frames.parts import BevelMark, CarriedMark
from scrieve.frames.ripping import RipSizes, half_stiffness, plan_for, plan_ripping
from scrieve.wording import in_units

SIZES = RipSizes(45.0, 3.0, 2.0, 2.5)
BEVELS = [
    BevelMark(1, 200.0, 300.0, 50.0, -0.1, "under", -45 * math.tan(0.1)),
    BevelMark(2, 900.0, 900.0, 500.0, 0.05, "standing", 45 * math.tan(0.05)),
    BevelMark(3, 1500.0, 1000.0, 900.0, 0.0, "square", 0.0),
]
MARKS = [CarriedMark("P", "heel"), CarriedMark("S", "heel"), CarriedMark("P", "head")]


def test_siding_of_a_pair_in_inches():
    # published worked figure: 2 × 1-1/2 + 1/8 + 4 × 1/16 = 3-3/8 in
    assert RipSizes(1.5, 1 / 8, 1 / 16, 1 / 16).needed_mm == 3.375


def test_layers_make_up_the_blank_and_mirror_each_other():
    for found in (None, 103.0, 98.5):
        plan = plan_ripping(SIZES, MARKS, BEVELS, "fore", found_siding_mm=found)
        edges = [layer.from_mm for layer in plan.layers] + [plan.layers[-1].to_mm]
        assert edges[0] == 0
        assert edges[-1] == pytest.approx(found or 102.0)
        np.testing.assert_allclose(edges, plan.siding_mm - np.array(edges[::-1]), atol=1e-9)
        assert [layer.hand for layer in plan.layers] == ["P", "P", "P", "", "S", "S", "S"]


def test_cuts_leave_what_they_say():
    plan = plan_ripping(SIZES, MARKS, BEVELS, "fore", found_siding_mm=103.0)
    cuts = {cut.what: cut for cut in plan.cuts}
    # 103: edges off leave 98; less kerf 3 and twice 45 leaves 5, half for each sawn face
    assert plan.cleaning_left_mm == pytest.approx(2.5)
    assert cuts["thickness the edge of half S parallel to it"].leaves_mm == pytest.approx(98.0)
    assert cuts["rip"].setting_mm == pytest.approx(47.5)
    assert 2 * cuts["rip"].leaves_mm + 3.0 == pytest.approx(98.0)
    assert [cut.order for cut in plan.cuts] == list(range(1, len(plan.cuts) + 1))
    words = [cut.what for cut in plan.cuts]
    assert words.index("label the sawn faces at once") < words.index("bevel, each to its own hand")
    assert words[0].startswith("carry the marks")


@pytest.mark.parametrize(
    ("found", "ok", "said"),
    [(102.0, True, ""), (100.0, False, "1.0 mm is left to clean"), (96.0, False, "42.0 mm sided")],
)
def test_width(found, ok, said):
    check = plan_ripping(SIZES, MARKS, BEVELS, "aft", found_siding_mm=found).check
    assert check.ok is ok
    assert said in check.caution


def test_most_sided_by_hand():
    # 96: less kerf 3, halves of 46.5, less 2 sawn and 2.5 edge
    assert plan_ripping(SIZES, [], [], "aft", found_siding_mm=96.0).most_sided_mm == pytest.approx(42.0)


def test_bevels_are_of_opposite_hand():
    port, starboard = plan_ripping(SIZES, MARKS, BEVELS, "fore").halves
    assert (port.hand, starboard.hand) == ("P", "S")
    for a, b in zip(port.bevels, starboard.bevels, strict=True):
        assert a.tilt_rad == -b.tilt_rad
        assert (a.bevel_rad, a.wood_mm, a.off_face) == (b.bevel_rad, b.wood_mm, b.off_face)
    assert [bevel.off_face for bevel in port.bevels] == ["sawn face", "moulding-edge face", "neither"]
    assert port.bevels[0].wood_mm == pytest.approx(45 * math.tan(0.1))
    # an under bevel falls towards the sawn face, which for port is the side of half S
    assert "rising towards the side of half P" in port.bevels[0].text
    assert "rising towards the side of half S" in starboard.bevels[0].text


def test_heel_of_each_half():
    # from forward one sees the port side on the right hand, so its heel (inboard) at the left; from aft the reverse
    assert [half.heel_at for half in plan_ripping(SIZES, MARKS, BEVELS, "fore").halves] == ["left", "right"]
    assert [half.heel_at for half in plan_ripping(SIZES, MARKS, BEVELS, "aft").halves] == ["right", "left"]


def test_marks_go_with_their_half():
    port, starboard = plan_ripping(SIZES, MARKS, BEVELS, "fore").halves
    assert [mark.text for mark in port.marks] == ["heel", "head"]
    assert [mark.text for mark in starboard.marks] == ["heel"]
    assert (port.moulding_face, port.sawn_face) == ("fore", "aft")


def test_the_plan_of_a_designed_frame_agrees_with_its_blank():
    design = design_frame(circle(1400.0, 1.5, bevel=0.12), FrameChoice(frame="14"))
    plan = plan_for(design)
    assert plan.siding_mm == pytest.approx(design.blank.siding_mm)
    saw = next(layer for layer in plan.layers if layer.what == "kerf")
    rips = dict(design.blank.rips)
    assert (saw.from_mm, saw.to_mm) == pytest.approx((rips["saw cut, near side"], rips["saw cut, far side"]))
    halves = {layer.hand: layer for layer in plan.layers if layer.what == "half"}
    assert halves["P"].to_mm == pytest.approx(rips["far face of half P (plane to here)"])
    assert halves["S"].from_mm == pytest.approx(rips["far face of half S (plane to here)"])
    assert all(half.marks and len(half.bevels) == len(design.bevels) for half in plan.halves)
    wide = plan_for(design, kerf_mm=1.5)
    assert wide.sizes.kerf_mm == 1.5
    assert in_units(wide.check, "ft").found.startswith("3 ")
    assert in_units(wide.cuts, "ft")[5].how.startswith("kerf 1/16 in")


def test_cautions_are_there():
    said = " ".join(plan_ripping(SIZES, MARKS, BEVELS, "fore").cautions)
    for word in ("riving knife", "never to pull", "fully cured", "stickered", "respirator", "alike only until"):
        assert word in said


def test_stiffness_of_a_half_goes_by_its_width():
    # EI of a rectangle goes with its width: closed form
    assert half_stiffness(6e10, 96.0, 48.0) == pytest.approx(3e10)


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: RipSizes(0, 3, 2, 2), "sided: 0 mm"),
        (lambda: RipSizes(45, -3, 2, 2), "kerf_mm: -3; give mm"),
        (lambda: plan_ripping(SIZES, [], [], "fore", found_siding_mm=-1), "siding of the blank: -1 mm"),
        (lambda: RipSizes(45, 250, 2, 2), "kerf: 250.0 mm; give 25 mm at most"),
        (lambda: plan_ripping(SIZES, [], [], "fore", found_siding_mm=3), "siding of the blank: 3.0 mm leave nothing"),
        (
            lambda: plan_ripping(SIZES, [], [], "fore", found_siding_mm=1e6),
            "are more than twice the .* measure it again",
        ),
        (lambda: half_stiffness(1e10, 40, 45), "a half sided 45 mm out of a blank of 40 mm"),
    ],
)
def test_what_cannot_be(call, said):
    with pytest.raises(BadLamination, match=said):
        call()

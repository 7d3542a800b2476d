"""Shift of butts and scarfs, as printed.

Sources: TB 55-1900-201-45/1, paragraphs 2-12 (replacement planks: six frame spaces; lower limit 5 ft) and 2-13 (three
frame spaces between butts in adjacent strakes, three solid strakes between butts in one bay; 5 ft where the frame
spacing is unusual); rules of 1866 for construction of Great Lakes vessels (5 ft, one strake between 4 ft, three strakes
between on one timber); classification rules for composite vessels, 1891 (garboards 4 ft 6 in from the opposite
garboard's butts and from keel scarfs); a small-yacht builder's practice (two spaces, two planks between); Wood Handbook
p. 10-17 and a rule of thumb for clinker boats (scarfs: 12 : 1, 6 : 1 with nib of 1/16 in on 3/8 in).
"""

import pytest

from scrieve.planking.butts.joints import EndJoint, ShellLayout, StrakeRun, breaches
from scrieve.planking.butts.rules import BUTT_RULES, butt_rules
from scrieve.planking.butts.scarfs import scarf

INCH, FOOT = 25.4, 304.8
ARMY, UNUSUAL, LAKES, YACHT, COMPOSITE = (
    "army, usual frame spacing", "army, unusual frame spacing", "Great Lakes, 1866", "small yacht",
    "composite, 1891: garboards",
)  # fmt: skip


def shell(*joints, spacing=12 * INCH, strakes=8, **more):
    """Frames 1 to 60; joints as (strake, station)."""
    frames = tuple((str(i + 1), spacing * i) for i in range(60))
    runs = tuple(StrakeRun(i + 1, 0.0, spacing * 59) for i in range(strakes))
    return ShellLayout(frames, runs, tuple(EndJoint(*joint) for joint in joints), **more)


def bay(number, spacing=12 * INCH):
    """Middle of the bay between frame `number` and the next."""
    return spacing * (number - 0.5)


def rules_broken(layout, name):
    return [breach.rule for breach in breaches(layout, butt_rules(name))]


def test_three_frame_spaces_between_adjacent_butts():  # bays 20 and 22 fail, 20 and 23 pass
    assert rules_broken(shell((2, bay(20)), (3, bay(22))), ARMY) == ["adjacent strakes"]
    assert rules_broken(shell((2, bay(20)), (3, bay(23))), ARMY) == []
    (breach,) = breaches(shell((2, bay(20)), (3, bay(22))), butt_rules(ARMY))
    assert (breach.found, breach.asked) == ("2 frame spaces", "3 frame spaces")
    assert breach.text == (
        "strakes 2 and 3, bay 20-21 and bay 22-23: 2 frame spaces; adjacent strakes, 3 frame spaces "
        "(army, usual frame spacing)."
    )


def test_three_solid_strakes_between_butts_in_one_bay():  # strakes 1 and 4 (two between) fail, 1 and 5 pass
    assert rules_broken(shell((1, bay(20)), (4, bay(20))), ARMY) == ["2 strakes between"]
    assert rules_broken(shell((1, bay(20)), (5, bay(20))), ARMY) == []
    assert rules_broken(shell((1, bay(20)), (3, bay(20))), ARMY) == ["one strake between"]
    assert rules_broken(shell((1, bay(20)), (3, bay(21))), ARMY) == []


def test_a_stealer_that_has_ended_is_no_solid_strake():
    layout = shell((1, bay(20)), (5, bay(20)))
    short = [StrakeRun(3, 0.0, bay(10)) if run.number == 3 else run for run in layout.strakes]
    assert rules_broken(ShellLayout(layout.frames, tuple(short), layout.joints), ARMY) == ["2 strakes between"]


def test_feet_between_butts_on_the_lakes():  # 4'-11" / 5'-0" adjacent; 3'-11" / 4'-0" with one strake between
    def apart(strakes, feet, inches):
        return shell((1, bay(20)), (1 + strakes, bay(20) + feet * FOOT + inches * INCH))

    assert rules_broken(apart(1, 4, 11), LAKES) == ["adjacent strakes"]
    assert rules_broken(apart(1, 5, 0), LAKES) == []
    assert rules_broken(apart(2, 3, 11), LAKES) == ["one strake between"]
    assert rules_broken(apart(2, 4, 0), LAKES) == []
    assert rules_broken(apart(3, 0, 0), LAKES) == ["2 strakes between"]
    assert rules_broken(apart(4, 0, 0), LAKES) == []
    assert rules_broken(apart(1, 4, 11), UNUSUAL) == ["adjacent strakes"]


def test_a_replacement_plank_of_six_spaces_may_still_be_too_short():
    # 9 in spaces: six are 4 ft 6 in: keeps the six-space rule and breaks the lower limit of 5 ft; both are looked at
    space = 9 * INCH
    layout = shell((2, bay(20, space)), (2, bay(26, space)), spacing=space)
    assert [(b.rule, b.found, b.asked) for b in breaches(layout, butt_rules(ARMY))] == [
        ("shortest plank", f"{54 * INCH:.0f} mm", f"{5 * FOOT:.0f} mm")
    ]
    five = shell((2, bay(20, 12 * INCH)), (2, bay(25, 12 * INCH)))
    assert [b.found for b in breaches(five, butt_rules(ARMY))] == ["5 frame spaces"]


def test_garboards_four_feet_six():
    for name in ("opposite_mm", "keel_scarfs_mm"):
        near = shell((1, bay(20)), **{name: (bay(20) + 4 * FOOT + 5 * INCH,)})
        far = shell((1, bay(20)), **{name: (bay(20) + 4 * FOOT + 6 * INCH,)})
        assert rules_broken(near, COMPOSITE) == ["garboards"]
        assert rules_broken(far, COMPOSITE) == []
    assert rules_broken(shell((2, bay(20)), opposite_mm=(bay(20),)), COMPOSITE) == []


def test_small_yacht():  # two spaces, two planks between
    assert rules_broken(shell((1, bay(20)), (2, bay(21))), YACHT) == ["adjacent strakes"]
    assert rules_broken(shell((1, bay(20)), (2, bay(22))), YACHT) == []
    assert rules_broken(shell((1, bay(20)), (3, bay(20))), YACHT) == ["one strake between"]
    assert rules_broken(shell((1, bay(20)), (4, bay(20))), YACHT) == []


def test_butts_stand_between_frames():  # paragraph 2-13a: butts not on frames
    assert rules_broken(shell((1, 12 * INCH * 20)), ARMY) == ["between frames"]
    assert rules_broken(shell((1, 12 * INCH * 20)), LAKES) == []


def test_every_set_names_its_source():
    assert all(rules.source and rules.caution for rules in BUTT_RULES.values())


def test_scarfs_as_printed():
    assert scarf(INCH).length_mm == pytest.approx(12 * INCH)  # 12 : 1 on 1 in
    assert scarf(3 / 8 * INCH, "glued, plywood and light plank").length_mm == pytest.approx(3 * INCH)
    assert scarf(1 / 4 * INCH, "glued, plywood and light plank").length_mm == pytest.approx(2 * INCH)
    assert scarf(3 / 8 * INCH, "clinker, with nib").nib_mm == pytest.approx(INCH / 16)

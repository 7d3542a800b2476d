"""The chain: what is kept goes in, results come out, each under a revision of all that it hangs on and of no more."""

import sys
from dataclasses import asdict, fields, replace
from pathlib import Path

import numpy as np
import pytest
import shapely
from shapely import LineString

import scrieve.chain
from scrieve.boat import Boat
from scrieve.chain import Kept, set_apart
from scrieve.errors import CannotFair, NoSuchFrame, NoSuchPlank
from scrieve.frames.design import FrameChoice, design_frame
from scrieve.frames.release.off_jig import timber_and_glue
from scrieve.planking import read_spiling
from scrieve.takeoff.marks import Mark

sys.path.insert(0, str(Path(__file__).parent / "published"))
from wigley import Wigley

HULL = Wigley(length_mm=6000, beam_mm=2000, draught_mm=800)
SPILING = Path(__file__).parents[1] / "examples" / "formats" / "spiling.csv"


def mark(number, x, z):
    y = float(HULL.half_breadth(x, z))
    return Mark(
        number=number, frame=str((number - 1) // 7 + 1), station_mm=x + 3000.0, height_mm=z + 800.0, half_breadth_mm=y
    )


@pytest.fixture(scope="module")
def kept():
    """Seven frames of seven exact marks, two frames and two planks to be made."""
    places = [(float(x), float(z)) for x in np.linspace(-1800, 1800, 7) for z in np.linspace(-800, 0, 7)]
    seams = {
        edge: [{"value_mm": height, "kind": "height", "frame": label, "station_mm": None} for label in "234"]
        for edge, height in (("lower", 400.0), ("upper", 500.0))
    }
    batten = read_spiling(SPILING.read_bytes(), SPILING.name).batten
    return Kept(
        Boat(name="Wigley", thickness_mm=20.0, sigma_mm=0.5),  # exact marks
        tuple(mark(i + 1, *place) for i, place in enumerate(places)),
        {},
        {
            "3": {"choice": {"frame": "3", "timber": "larch"}, "station_mm": None},
            "3a": {"choice": {"frame": "3a"}, "station_mm": 2700.0},
        },
        {
            "topside": {"kind": "strake", "choice": {"name": "topside", "thickness_mm": 20.0, **seams}},
            "spiled": {
                "kind": "spiled",
                "choice": {"name": "spiled", "thickness_mm": 20.0},
                "marks": [asdict(one) for one in batten.marks],
            },
        },
    )


def revisions(kept):
    return {
        "hull": kept.hull_revision,
        **{label: kept.frame_revision(label) for label in kept.frames},
        **{name: kept.plank_revision(name) for name in kept.planks},
    }


def changed(before, after):
    old, new = revisions(before), revisions(after)
    assert old.keys() == new.keys()
    return {name for name in old if old[name] != new[name]}


ON_THE_HULL = {"hull", "3", "3a", "topside"}


def test_the_same_inputs_give_the_same_revisions(kept):
    again = Kept(
        replace(kept.boat),
        tuple(replace(one) for one in kept.marks),
        dict(kept.answers),
        {label: dict(reversed(entry.items())) for label, entry in kept.frames.items()},
        dict(reversed(kept.planks.items())),
    )
    assert changed(kept, again) == set()
    assert len(set(revisions(kept).values())) == 5


def test_any_mark_changes_all_that_hangs_on_the_hull(kept):
    first, *rest = kept.marks
    moved = replace(first, height_mm=np.nextafter(first.height_mm, np.inf))
    assert changed(kept, replace(kept, marks=(moved, *rest))) == ON_THE_HULL
    assert changed(kept, replace(kept, marks=tuple(rest))) == ON_THE_HULL
    assert changed(kept, replace(kept, marks=(*kept.marks, replace(first, number=99)))) == ON_THE_HULL


def test_an_answer_changes_all_that_hangs_on_the_hull(kept):
    assert changed(kept, replace(kept, answers={3: "keep"})) == ON_THE_HULL
    assert revisions(replace(kept, answers={3: "keep", 4: "keep"})) == revisions(
        replace(kept, answers={4: "keep", 3: "keep"})
    )


def test_any_setting_of_the_boat_changes_all_that_hangs_on_the_hull(kept):
    others = {
        "name": "Other",
        "planking": "outside",
        "thickness_mm": 21.0,
        "units": "ft",
        "sigma_mm": 1.0,
        "half_beam_mm": 1200.0,
        "note": "looked at",
    }
    assert set(others) == {field.name for field in fields(Boat)}
    for name, value in others.items():
        assert changed(kept, replace(kept, boat=replace(kept.boat, **{name: value}))) == ON_THE_HULL, name


@pytest.mark.parametrize(
    ("label", "entry"),
    [
        ("3", {"choice": {"frame": "3", "timber": "larch", "sided_mm": 46.0}, "station_mm": None}),
        ("3", {"choice": {"frame": "3", "timber": "oak"}, "station_mm": None}),
        ("3a", {"choice": {"frame": "3a"}, "station_mm": 2700.5}),
    ],
)
def test_a_choice_changes_its_own_frame_alone(kept, label, entry):
    assert changed(kept, replace(kept, frames={**kept.frames, label: entry})) == {label}


def test_a_choice_changes_its_own_plank_alone(kept):
    for name in kept.planks:
        entry = kept.planks[name]
        thicker = {**entry, "choice": {**entry["choice"], "thickness_mm": 24.0}}
        assert changed(kept, replace(kept, planks={**kept.planks, name: thicker})) == {name}
    first, *rest = kept.planks["spiled"]["marks"]
    moved = {**kept.planks["spiled"], "marks": [{**first, "x_mm": first["x_mm"] + 1e-9}, *rest]}
    assert changed(kept, replace(kept, planks={**kept.planks, "spiled": moved})) == {"spiled"}


def test_another_version_changes_every_revision(kept, monkeypatch):
    before = revisions(kept)
    monkeypatch.setattr(scrieve.chain, "__version__", "99")
    after = revisions(replace(kept))
    assert all(before[name] != after[name] for name in before)


def test_results_follow_what_is_kept(kept):
    assert kept.frame("3").section.station_mm == 2400.0
    assert kept.frame("3a").section.station_mm == 2700.0
    assert kept.frame("3").choice.timber == "larch"
    assert {kept.plank(name).kind for name in kept.planks} == {"strake", "spiled"}
    section = kept.hull().section("3")
    z = section.height_mm - 800.0
    off = (section.half_breadth_mm - HULL.half_breadth(-600.0, z)) / np.hypot(1, HULL.slopes(-600.0, z)[1])
    assert np.abs(off).max() < 2 * 0.5  # two standard deviations of its marks; test_wigley.py holds fairing closer


def test_the_hull_is_computed_once_for_each_revision(kept, monkeypatch):
    made = []
    monkeypatch.setattr(scrieve.chain, "_hulls", scrieve.chain._Hulls())
    monkeypatch.setattr(scrieve.chain, "fair", lambda marks, *_args, **_more: made.append(len(marks)) or object())
    assert kept.hull() is kept.hull() is replace(kept, frames={}).hull()
    assert made == [49]
    fewer = [replace(kept, marks=kept.marks[n:]) for n in range(1, 5)]
    for one in fewer:
        one.hull()
    assert made == [49, 48, 47, 46, 45]
    fewer[0].hull()  # still at hand
    assert len(made) == 5
    kept.hull()  # four are kept; the one used longest ago was let go
    fewer[0].hull()
    assert made[5:] == [49]
    fewer[1].hull()
    assert made[6:] == [47]


def test_a_frame_and_a_plank_are_made_once_for_each_revision(kept):
    assert kept.frame("3") is replace(kept, planks={}).frame("3")
    assert kept.plank("topside") is replace(kept, frames={}).plank("topside")
    changed = {**kept.frames, "3": {**kept.frames["3"], "station_mm": 2500.0}}
    assert replace(kept, frames=changed).frame("3").section.station_mm == 2500.0
    fewer = replace(kept, marks=kept.marks[1:])
    assert fewer.plank("topside") is not kept.plank("topside")
    assert fewer.plank("spiled") is kept.plank("spiled"), "it does not hang on the hull"


def test_a_spiled_plank_needs_no_hull(kept):
    bare = replace(kept, marks=())
    assert bare.plank("spiled").kind == "spiled"
    with pytest.raises(CannotFair):
        bare.plank("topside")


def test_what_is_not_there_is_named(kept):
    with pytest.raises(NoSuchFrame, match="frame '9' has not been designed; design it first"):
        kept.frame("9")
    with pytest.raises(NoSuchFrame, match="frame '9'"):
        kept.frame_revision("9")
    with pytest.raises(NoSuchPlank, match="plank 'keel' is not in this boat; give its seams"):
        kept.plank("keel")
    with pytest.raises(NoSuchPlank, match="plank 'keel'"):
        kept.plank_revision("keel")


def test_a_fault_in_fairing_is_not_kept_at_hand(kept):
    none = replace(kept, marks=kept.marks[:7])
    for _ in range(2):
        with pytest.raises(CannotFair):
            none.hull()


def test_a_learnt_factor_enters_the_frames_it_is_used_for_and_no_other(kept):
    learnt = replace(kept, springs={("larch", "epoxy"): (1.1, 0.04), ("oak, white", "epoxy"): (0.9, 0.05)})
    assert changed(kept, learnt) == {"3", "3a"}
    own = {**kept.frames, "3": {"choice": {"frame": "3", "spring_factor": 1.2}, "station_mm": None}}
    assert changed(replace(kept, frames=own), replace(learnt, frames=own)) == {"3a"}  # the builder's own factor stands
    assert changed(kept, replace(kept, springs={("larch", "resorcinol"): (1.1, 0.04)})) == set()


def test_a_frame_is_designed_with_the_factor_learnt_and_its_sd(kept):
    plain = kept.frame("3")
    learnt = replace(kept, springs={("larch", "epoxy"): (1.1, 0.04)}).frame("3")
    assert (plain.choice.spring_factor, plain.prediction.factor_sd) == (1.0, 0.15)
    assert (learnt.choice.spring_factor, learnt.prediction.factor_sd) == (1.1, 0.04)
    assert np.allclose(learnt.springback, 1.1 * plain.springback)
    assert learnt.prediction.sd_mm.max() < 0.5 * plain.prediction.sd_mm.max()


def test_the_far_face_of_a_frame_is_the_hulls_own_section_there(kept):
    """Distance of the far face from the fair hull's section at its station; the slope alone misses it more."""
    design = kept.frame("3")
    x = design.section.station_mm + (1 if design.moulding_edge == "fore" else -1) * design.choice.sided_mm
    far = kept.hull().section(x, 2000)
    hull = LineString(np.column_stack([far.half_breadth_mm, far.height_mm]))
    slope = design_frame(kept.hull().section("3", 400), design.choice)
    off, by_slope = (
        shapely.distance(hull, shapely.points(each.outline.far_outer_mm[20:-20])).max() for each in (design, slope)
    )
    assert off < 0.02
    assert by_slope > 3 * off


def test_the_key_of_a_factor_is_what_the_packet_is_made_of():
    assert timber_and_glue(FrameChoice("1", timber="Sapele / larch")) == ("sapele/larch", "epoxy")
    stack = (("larch", 8.0), ("oak, white", 8.0), ("larch", 8.0))
    assert timber_and_glue(FrameChoice("1", stack=stack, glue="resorcinol")) == ("larch/oak, white", "resorcinol")


@pytest.fixture(scope="module")
def twisted(kept):
    """The same hull measured on both sides, port 12 mm fuller than starboard; a pair of frame 3, and one from port."""
    sides = [
        replace(one, side=side, half_breadth_mm=one.half_breadth_mm + out, number=2 * one.number + (side == "S"))
        for one in kept.marks
        for side, out in (("P", 6.0), ("S", -6.0))
        if one.half_breadth_mm > 20
    ]
    pair = kept.frames["3"]
    port = {**pair, "choice": {**pair["choice"], "hull": "port"}}
    strake = kept.planks["topside"]
    planks = {**kept.planks, "own": {**strake, "choice": {**strake["choice"], "name": "own", "hull": "starboard"}}}
    answers = {one.number: "keep" for one in sides}  # nobody is to be doubted for belonging to a twisted boat
    frames = {"3": pair, "port": {**port, "station_mm": 2400.0}, **set_apart("3", pair)}
    return replace(kept, marks=tuple(sides), answers=answers, frames=frames, planks=planks)


def test_a_member_is_made_from_the_marks_of_the_side_that_it_names(twisted):
    lines = {label: twisted.frame(label).section for label in twisted.frames}
    middle = {label: float(np.interp(400.0, line.height_mm, line.half_breadth_mm)) for label, line in lines.items()}
    assert middle["3 P"] - middle["3 S"] == pytest.approx(12.0, abs=0.5)
    assert middle["3"] == pytest.approx((middle["3 P"] + middle["3 S"]) / 2, abs=1.5)  # 12 mm apart at sigma 0.5
    assert middle["port"] == pytest.approx(middle["3 P"], abs=1e-6)
    assert "The line is port's own, and the other side is got out to it too" in " ".join(twisted.frame("port").cautions)


def test_a_blank_for_one_hand_has_no_saw_cut_and_carries_that_hand_alone(twisted):
    pair, own = twisted.frame("3"), twisted.frame("3 S")
    choice = pair.choice
    assert own.blank.siding_mm == choice.sided_mm + 2 * choice.edge_cleaning_mm
    assert {mark.hand for mark in own.marks_to_carry} == {"S"}
    assert own.marks_to_carry[0].text.startswith("frame 3 S (starboard)")


def test_marks_of_one_side_put_nothing_of_the_other_out_of_date(twisted):
    first = next(one for one in twisted.marks if one.side == "S")
    moved = replace(first, height_mm=first.height_mm + 1)
    marks = tuple(moved if one is first else one for one in twisted.marks)
    assert changed(twisted, replace(twisted, marks=marks)) == {"hull", "3", "3 S", "topside", "own"}
    assert changed(twisted, replace(twisted, answers={**twisted.answers, first.number: "drop"})) == {
        "hull", "3", "3 S", "topside", "own"
    }  # fmt: skip


def test_a_blank_for_one_hand_stands_where_its_frame_was_measured(twisted):
    moved = [replace(one, station_mm=one.station_mm + 30) if one.frame == "3" else one for one in twisted.marks]
    assert replace(twisted, marks=tuple(moved)).frame("3 P").section.station_mm == 2430.0


def test_a_side_with_too_few_marks_is_told_of(twisted):
    one_frame = tuple(one for one in twisted.marks if one.side == "S" or one.frame == "3")
    with pytest.raises(CannotFair, match=r"port by itself: a hull needs at least 4 frames"):
        replace(twisted, marks=one_frame).frame("3 P")
    few = tuple(one for one in twisted.marks if one.side == "S" or one.frame not in ("3",))
    said = replace(twisted, marks=few).frame("3 P").cautions
    assert "Port by itself is faired from 6 frames: between so few the ± is too small" in said[0]
    assert "Port was not measured at this frame" in said[1]
    assert "frames 2 and 4" in said[1]

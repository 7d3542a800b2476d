"""Lining off: closed forms on a cone, limits and fairness on a round bilge, kept seams, set widths, stealers."""

from dataclasses import asdict, replace

import numpy as np
import pytest
from form_hulls import FormHull
from hulls import ConeHull, FramedWigley, Moved, Reversed

from scrieve.errors import BadPlank, NoSuchFrame
from scrieve.planking import SeamMark, StrakeChoice, design_plank
from scrieve.planking.lining.choice import KeptSeam, LiningChoice, PlaceLimit, SetWidths, Stealer
from scrieve.planking.lining.flat import drawn_flat
from scrieve.planking.lining.line_off import line_off
from scrieve.planking.lining.stealers import propose_stealers

CONE = LiningChoice("side", narrowest_mm=60, end_narrowest_mm=50, widest_mm=300, strakes=10)
TIGHT = LiningChoice("side", strakes=14, narrowest_mm=102, end_narrowest_mm=99, widest_mm=172)


@pytest.fixture(scope="module")
def round_bilge():
    return FormHull("round bilge")


@pytest.fixture(scope="module")
def tight(round_bilge):
    return line_off(round_bilge, TIGHT)


def test_a_cone_is_divided_evenly():
    # Closed form: the straight lines of a cone are its geodesics and divide every section alike, so equal division
    # has no sweep and is the answer, whatever the weight.
    lining = line_off(ConeHull(), CONE)
    radius = ConeHull().radius(np.array([frame.x_mm for frame in lining.frames]))
    assert lining.width_mm == pytest.approx(np.tile(np.pi / 2 * radius / 10, (10, 1)), abs=1e-3)
    assert max(seam.off_mm for seam in lining.fairness) < 1e-3
    assert lining.remarks == ()


def test_limits_are_met_and_lines_are_fairer_than_equal_division(tight):
    # The bar: limits to 0.01 mm; second difference (in the surface) at most half of that of equal fractions.
    low, high = tight.limits.narrowest, tight.limits.widest
    assert np.all(tight.width_mm >= low - 0.01)
    assert np.all(tight.width_mm <= high + 0.01)
    assert np.any(tight.width_mm < low + 0.01), "no limit bites: the case proves nothing"
    assert np.any(tight.width_mm > high - 0.01), "no limit bites: the case proves nothing"
    assert tight.remarks == ()
    assert all(check.ok for check in tight.checks)
    inner = slice(1, -1)
    off = [max(seam.off_mm for seam in fair[inner]) for fair in (tight.fairness, tight.equal)]
    assert off[0] <= 0.5 * off[1]
    change = [max(seam.change_mm for seam in fair[inner]) for fair in (tight.fairness, tight.equal)]
    assert change[0] <= 0.5 * change[1]
    assert np.sum(tight.width_mm, axis=0) == pytest.approx(tight.girth_mm[-1], abs=1e-6)


def test_backing_out_limits_the_width(round_bilge):
    choice = LiningChoice("side", strakes=15, widest_mm=200, thickness_mm=25, stock_mm=32, planing_mm=3)
    free, held = (line_off(round_bilge, replace(choice, stock_mm=stock)) for stock in (0.0, 32.0))
    assert np.nanmax(free.hollow_mm) > 10
    assert np.nanmax(held.hollow_mm) == pytest.approx(4.0, abs=0.01)
    tightest = np.unravel_index(np.argmax(free.hollow_mm), free.hollow_mm.shape)
    assert held.width_mm[tightest] < free.width_mm[tightest]
    said = next(check for check in held.checks if check.name == "Backing out")
    assert said.ok
    assert "4.0 mm" in said.limit
    # the plank as drawn is hollowed by as much: its own sum runs square to the plank, and along the whole frame
    j = int(tightest[0]) + 1
    assert design_plank(round_bilge, held.strake(j)).hollow_mm == pytest.approx(np.max(held.hollow_mm[j - 1]), abs=1.0)


def test_limits_that_cannot_be_kept_are_told(round_bilge):
    lining = line_off(round_bilge, replace(TIGHT, widest_mm=160))
    assert any("wider than 160.0 mm, and at" in remark for remark in lining.remarks)
    assert not next(check for check in lining.checks if check.name == "Widest strake").ok
    assert np.nanmax(lining.width_mm) < 175, "no more than must be"


def test_kept_seams_stay_exactly(round_bilge):
    whole = line_off(round_bilge, replace(TIGHT, narrowest_mm=60, end_narrowest_mm=40))
    frames = [str(i) for i in range(1, 41)]
    kept = [SeamMark(float(g) + 12 * np.sin(i / 6), "girth", f)
            for i, (f, g) in enumerate(zip(frames, whole.girth_mm[5], strict=True))]  # fmt: skip
    seam = KeptSeam("under the bilge", tuple(kept), below=5)
    lining = line_off(round_bilge, replace(whole.choice, kept=(seam,)))
    assert lining.girth_mm[5] == pytest.approx([mark.value_mm for mark in kept], abs=1e-5)
    assert lining.counts == (5, 9)
    part = KeptSeam("after part", tuple(kept[20:]), below=5)
    lining = line_off(round_bilge, replace(whole.choice, kept=(part,)))
    assert lining.girth_mm[5, 20:] == pytest.approx([mark.value_mm for mark in kept[20:]], abs=1e-5)
    assert lining.counts == (14,)
    assert lining.fairness[5].off_mm < 6, "and runs on fairly from there"
    kinked = replace(part, marks=(*kept[20:30], replace(kept[30], value_mm=kept[30].value_mm + 25), *kept[31:]))
    fair = line_off(round_bilge, replace(whole.choice, kept=(kinked,))).checks[-1]
    assert (fair.name, fair.ok) == ("Fair lines", False)
    assert fair.caution.startswith("This seam stays as it was measured"), "no limit can be eased for it"


@pytest.mark.parametrize("first", [0, 20])
def test_a_kink_in_a_seam_that_stays_is_told(round_bilge, first):
    whole = line_off(round_bilge, replace(TIGHT, narrowest_mm=60, end_narrowest_mm=40))
    marks = [SeamMark(float(g), "girth", str(i + 1)) for i, g in enumerate(whole.girth_mm[5])]
    for kink in (0, 25):
        marks[30] = replace(marks[30], value_mm=float(whole.girth_mm[5, 30]) + kink)
        laid = line_off(round_bilge, replace(whole.choice, kept=(KeptSeam("old", tuple(marks[first:]), below=5),)))
        told = {check.name: check for check in laid.checks}
        assert told["Seam marks"].ok == told["Fair lines"].ok == (kink == 0)
    assert "'old' at frame 31" in told["Seam marks"].found
    # the second difference of marks of which one stands d out is 2d, less what the seam lies out of the frames
    assert laid.fairness[5].off_mm == pytest.approx(50, abs=3)
    assert laid.equal[5].off_mm < 5


def test_a_seam_that_stays_over_a_part_asks_for_its_number(round_bilge):
    whole = line_off(round_bilge, replace(TIGHT, narrowest_mm=60, end_narrowest_mm=40))
    kept = [SeamMark(float(g), "girth", str(i + 1)) for i, g in enumerate(whole.girth_mm[5])]
    part = KeptSeam("after part", tuple(kept[20:]), below=5)
    with pytest.raises(BadPlank, match="kept seam 'after part' does not run the whole length, so the strakes below"):
        line_off(round_bilge, replace(whole.choice, kept=(replace(part, below=0),)))


def test_a_region_between_two_seams(round_bilge):
    whole = line_off(round_bilge, TIGHT)
    choice = replace(TIGHT, lower=whole.marks(3), upper=whole.marks(9), first="6", last="30", strakes=6)
    region = line_off(round_bilge, choice)
    assert region.girth_mm[0] == pytest.approx(whole.girth_mm[3, 5:30], abs=1e-4)
    assert region.girth_mm[-1] == pytest.approx(whole.girth_mm[9, 5:30], abs=1e-4)
    assert [frame.label for frame in region.frames] == [str(i) for i in range(6, 31)]
    heights = line_off(round_bilge, replace(choice, lower=whole.marks(3, "height"), upper=whole.marks(9, "height")))
    assert heights.girth_mm == pytest.approx(region.girth_mm, abs=1e-3)


def test_set_widths_are_held(round_bilge):
    free: tuple[float | None, ...] = (None,) * 11
    choice = replace(TIGHT, set_widths=(SetWidths("20", (160.0, *free, 150.0, 140.0)),), narrowest_mm=60,
                     end_narrowest_mm=40, widest_mm=200)  # fmt: skip
    lining = line_off(round_bilge, choice)
    assert lining.width_mm[[0, 12, 13], 19] == pytest.approx([160, 150, 140], abs=1e-6)
    girth = float(lining.girth_mm[-1, 19])
    all_set = SetWidths("20", tuple([girth / 14 - 1.0] * 14))
    with pytest.raises(BadPlank, match=r"frame 20: the widths set there fall 14\.0 mm short of the girth between"):
        line_off(round_bilge, replace(choice, set_widths=(all_set,)))
    with pytest.raises(BadPlank, match=r"set widths at frame 20: 3 given for 14 strakes"):
        line_off(round_bilge, replace(choice, set_widths=(SetWidths("20", (100.0, None, None)),)))


def test_as_set_carries_proportions_along():  # law: on a cone every section is the same figure, larger or smaller
    girth = float(np.pi / 2 * 1000)  # frame 6, radius 1000
    widths = tuple(girth * part for part in (0.14, 0.13, 0.12, 0.11, 0.1, 0.09, 0.08, 0.08, 0.08, 0.07))
    lining = line_off(ConeHull(), replace(CONE, rule="as set", set_widths=(SetWidths("6", widths),)))
    shares = lining.width_mm / lining.girth_mm[-1]
    assert shares == pytest.approx(np.tile(np.array(widths)[:, None] / girth, (1, shares.shape[1])), abs=1e-6)


def test_by_curvature_is_narrower_at_the_bilge(round_bilge):
    choice = replace(TIGHT, narrowest_mm=40, end_narrowest_mm=40, widest_mm=250)
    even, eased = (line_off(round_bilge, replace(choice, rule=rule)) for rule in ("equal", "by curvature"))
    hollows = [float(np.nanmax(lining.hollow_mm)) for lining in (even, eased)]
    assert hollows[1] < 0.7 * hollows[0]


def test_limits_by_place(round_bilge):
    choice = replace(TIGHT, narrowest_mm=60, end_narrowest_mm=40, widest_mm=200)
    lining = line_off(round_bilge, replace(choice, limits=(PlaceLimit("15", "25", 14, 14, widest_mm=120),)))
    assert lining.width_mm[13, 14:25].max() <= 120.01
    assert line_off(round_bilge, choice).width_mm[13, 14:25].min() > 125


def test_moved_and_turned_hulls_are_lined_off_alike():
    hull, choice = FramedWigley(), LiningChoice("side", strakes=12, narrowest_mm=60, widest_mm=200)
    plain = line_off(hull, choice)
    assert line_off(Moved(hull, 5000, 300), choice).width_mm == pytest.approx(plain.width_mm, abs=1e-5)
    assert line_off(Reversed(hull), choice).width_mm == pytest.approx(plain.width_mm[:, ::-1], abs=1e-3)


def test_number_of_strakes_is_proposed():
    hull = ConeHull()  # greatest girth 600π = 1885 mm at frame 0; widest 160: 11.78, so 12 at least
    lining = line_off(hull, replace(CONE, strakes=0, widest_mm=160, narrowest_mm=100, end_narrowest_mm=90))
    (proposal,) = lining.proposals
    assert (proposal.least, proposal.least_at, proposal.most) == (12, "frame 0", 20)
    assert lining.strakes == proposal.strakes == 13  # 11.78 and a twelfth in hand
    assert not proposal.stealers  # frame 12: girth 1257, narrowest 90: 13
    assert proposal.most_at_ends == 13
    many = line_off(hull, replace(CONE, strakes=0, widest_mm=120, narrowest_mm=110, end_narrowest_mm=100)).proposals[0]
    assert many.stealers


def test_stealers_where_the_girth_has_no_room():
    hull = ConeHull()  # 17 strakes of 82 mm: 1394, the girth between frames 9 (1414) and 10
    choice = LiningChoice("side", strakes=17, narrowest_mm=82, end_narrowest_mm=77, widest_mm=125, nib_mm=30)
    found = propose_stealers(hull, choice)
    assert len(found) == 1
    (stealer,) = found
    assert (stealer.end, stealer.frame, stealer.nib_mm) == ("last", "9", 30)
    before, after = line_off(hull, choice), line_off(hull, replace(choice, stealers=found))
    assert before.remarks
    assert after.remarks == ()
    row, nib = stealer.strake - 1, after.nibs[0]
    assert after.width_mm[row, nib.frame] == pytest.approx(30, abs=1e-6)
    assert np.isnan(after.width_mm[row, nib.frame + 1 :]).all()
    assert np.nansum(after.width_mm, axis=0) == pytest.approx(after.girth_mm[-1], abs=1e-6)
    plank = design_plank(hull, after.strake(stealer.strake))
    assert plank.frames[-1].width_mm == pytest.approx(30, abs=0.1)
    assert plank.frames[-1].label == stealer.frame
    at = hull.stations[stealer.frame]
    assert [after.end_at(each, at) for each in (stealer.strake, nib.receiver, 1)] == ["nib", "nib", "butt"]
    assert after.end_at(1, after.frames[0].x_mm) == "hood"
    with pytest.raises(BadPlank, match=rf"strake {nib.receiver} takes the nib of stealer {stealer.strake} at frame"):
        after.strake(nib.receiver)
    inner = design_plank(hull, after.strake(nib.receiver, last=stealer.frame))
    outer = design_plank(hull, after.strake(nib.receiver, first=stealer.frame))
    assert outer.frames[0].width_mm - inner.frames[-1].width_mm == pytest.approx(30, abs=0.5)
    notch, narrow = outer.cuts[0], inner.cuts[-1]
    assert (notch.kind, notch.end, notch.nib_mm) == ("step", "first", pytest.approx(30))
    assert (narrow.kind, narrow.end, narrow.nib_mm) == ("step", "last", pytest.approx(-30))
    edge = outer.upper_mm if nib.ended == nib.receiver else outer.lower_mm
    assert notch.begins_mm[0] == pytest.approx(tuple(edge[0]))  # from the corner of its end, as deep as the nib
    assert np.hypot(*np.subtract(*notch.begins_mm)) == pytest.approx(30)
    across = np.hypot(*(outer.upper_mm[0] - outer.lower_mm[0]))
    assert np.hypot(*np.subtract(notch.begins_mm[1], (outer.lower_mm if edge is outer.upper_mm else outer.upper_mm)[0])
                    ) == pytest.approx(across - 30)  # fmt: skip
    assert not {"Length of a new plank", "Butt at the first end"} & {check.name for check in outer.checks}
    assert StrakeChoice.from_mapping(asdict(outer.choice)) == outer.choice


def test_a_stealer_that_cannot_be():
    choice = replace(CONE, stealers=(Stealer(4, "last", "12", 30),))
    with pytest.raises(BadPlank, match="stealer 4 at frame 12: it would end at the region's end"):
        line_off(ConeHull(), choice)


def test_a_strake_becomes_a_plank_whose_edges_are_the_seams(tight, round_bilge):
    low, high = (design_plank(round_bilge, tight.strake(n, first="4", last="36")) for n in (7, 8))
    assert low.lengths_mm[2] == pytest.approx(high.lengths_mm[0], abs=1e-3)  # one seam, two planks
    assert [frame.label for frame in low.frames] == [str(i) for i in range(4, 37)]
    assert [frame.girth_mm for frame in low.frames] == pytest.approx(tight.width_mm[6, 3:36], abs=0.05)


def test_the_shell_drawn_out_flat(tight):
    flat = drawn_flat(tight, butts=[(3, 0.0), (3, 99_999.0)])
    assert len(flat.frames) == 40
    assert len(flat.seams) == 15
    assert len(flat.strakes) == 14
    assert len(flat.butts) == 1
    at = {frame.x_mm: k for k, frame in enumerate(tight.frames)}
    for j, seam in enumerate(flat.seams):
        for x, girth in seam.points_mm[::6]:
            assert girth == pytest.approx(tight.girth_mm[j, at[x]], abs=1e-4)
    (butt,) = flat.butts
    assert butt.points_mm[1, 1] - butt.points_mm[0, 1] == pytest.approx(
        np.interp(0.0, list(at), tight.width_mm[2]), abs=1.0
    )

    # law: the strakes' areas fill the drawing
    def area(points):
        return abs(np.sum(points[:-1, 0] * points[1:, 1] - points[1:, 0] * points[:-1, 1])) / 2

    whole = np.concatenate([flat.seams[0].points_mm, flat.seams[-1].points_mm[::-1], flat.seams[0].points_mm[:1]])
    assert sum(area(strake.points_mm) for strake in flat.strakes) == pytest.approx(area(whole), rel=1e-9)


def test_flat_strakes_with_a_stealer_fill_the_drawing():
    lining = line_off(ConeHull(), replace(CONE, strakes=12, stealers=(Stealer(4, "last", "9", 30),)))
    flat = drawn_flat(lining)

    def area(points):
        return abs(np.sum(points[:-1, 0] * points[1:, 1] - points[1:, 0] * points[:-1, 1])) / 2

    whole = np.concatenate([flat.seams[0].points_mm, flat.seams[-1].points_mm[::-1], flat.seams[0].points_mm[:1]])
    assert sum(area(strake.points_mm) for strake in flat.strakes) == pytest.approx(area(whole), rel=1e-9)
    (nib,) = flat.nibs
    assert np.ptp(nib.points_mm[:, 1]) == pytest.approx(30, abs=1e-6)


def test_choice_goes_through_plain_values():
    choice = replace(TIGHT, kept=(KeptSeam("old", (SeamMark(400.0, frame="3"), SeamMark(410.0, frame="9")), 4),),
                     set_widths=(SetWidths("20", (100.0, None)),), stealers=(Stealer(4, "first", "3", 25.0),),
                     limits=(PlaceLimit("1", "5", 1, 2, 80.0),))  # fmt: skip
    assert LiningChoice.from_mapping(asdict(choice)) == choice
    with pytest.raises(BadPlank, match="LiningChoice: no value is called 'colour'"):
        LiningChoice.from_mapping({"name": "a", "colour": "red"})


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"name": " "}, "the lining has no name"),
        ({"strakes": 80}, "strakes: found 80; give 1 to 60"),
        ({"widest_mm": 0.0}, r"widest: 0\.0 mm; give a value above zero"),
        ({"narrowest_mm": 200.0}, r"narrowest 200 mm is not under widest 172 mm"),
        ({"end_narrowest_mm": 120.0}, r"narrowest at the ends, 120 mm, is over the narrowest elsewhere"),
        ({"stock_mm": 26.0}, r"stock of 26 mm leaves nothing to back out"),
        ({"rule": "golden"}, "rule: found 'golden'; say one of equal, by curvature, as set"),
        ({"rule": "as set"}, "the rule is 'as set', but no widths are set"),
    ],
)
def test_a_choice_that_cannot_be(change, said):
    with pytest.raises(BadPlank, match=said):
        replace(TIGHT, **change)


def test_what_is_not_on_the_hull_is_named(round_bilge):
    with pytest.raises(NoSuchFrame, match="frame 'x'"):
        line_off(round_bilge, replace(TIGHT, first="x"))
    crossing = KeptSeam("wrong", (SeamMark(900.0, "girth", "1"), SeamMark(9.0, "girth", "40")), 0)
    other = KeptSeam("old", (SeamMark(600.0, "girth", "1"), SeamMark(600.0, "girth", "40")), 0)
    with pytest.raises(BadPlank, match="two of the seams given cross or meet at frame"):
        line_off(round_bilge, replace(TIGHT, kept=(crossing, other)))
    low = (SeamMark(500.0, "girth", "1"), SeamMark(500.0, "girth", "40"))
    high = KeptSeam("high", (SeamMark(600.0, "girth", "1"), SeamMark(600.0, "girth", "40")), 0)
    with pytest.raises(BadPlank, match="kept seam 'high': at frame 1 it lies outside the region"):
        line_off(round_bilge, replace(TIGHT, upper=low, kept=(high,)))

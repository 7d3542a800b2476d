"""Planning butts: every plan is held against the checker and a search of its own, and what cannot be is told."""

from dataclasses import asdict, replace
from itertools import combinations, pairwise, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scrieve.errors import BadPlank
from scrieve.planking.butts.joints import EndJoint, ShellLayout, StrakeRun, breaches
from scrieve.planking.butts.plan import PlankStock, PlanSettings, plan_butts
from scrieve.planking.butts.rules import BUTT_RULES, SCARF_SHIFTS, Apart, ButtRules, butt_rules
from scrieve.planking.butts.scarfs import scarf

SPACE = 400.0
ARMY = butt_rules("army, usual frame spacing")
YACHT = butt_rules("small yacht")
QUICK = PlanSettings(seconds=2.0, workers=2)


def shell(strakes=5, frames=25, **more):
    runs = tuple(StrakeRun(i + 1, 0.0, SPACE * (frames - 1)) for i in range(strakes))
    return ShellLayout(tuple((str(i + 1), SPACE * i) for i in range(frames)), runs, **more)


def test_a_plan_keeps_rules_and_stock():
    stock = [PlankStock(5000, 5), PlankStock(3800, 8)]
    plan = plan_butts(shell(strakes=3), stock, ARMY, QUICK)
    assert breaches(plan.layout, ARMY) == ()
    assert plan.proved
    assert plan.joints == plan.bound == len(plan.layout.joints)
    assert len(plan.planks) == plan.joints + 3
    for length, count in ((5000, 5), (3800, 8)):
        assert sum(plank.stock_mm == length for plank in plan.planks) <= count
    assert all(plank.length_mm <= plank.stock_mm + 1e-6 for plank in plan.planks)
    for number in range(1, 4):
        runs = [plank for plank in plan.planks if plank.strake == number]
        assert (runs[0].first_mm, runs[-1].last_mm) == (0.0, SPACE * 24)
        assert all(one.last_mm == other.first_mm for one, other in pairwise(runs))
        assert all(plank.length_mm == pytest.approx(plank.last_mm - plank.first_mm + 100) for plank in runs)
    assert all(bay.startswith("bay ") and width == SPACE for _, bay, width in plan.blocks)


def exhaustive(layout, rules, longest, most):
    """Fewest joints over all layouts of at most `most` joints a strake, by trying every one."""
    bays = [SPACE * (i + 0.5) for i in range(len(layout.frames) - 1)]
    able = []
    for count in range(most + 1):
        for chosen in combinations(bays, count):
            ends = [0.0, *chosen, layout.frames[-1][1]]
            if all(b - a + 100 <= longest for a, b in pairwise(ends)):
                able.append(chosen)
    best = None
    for rows in product(able, repeat=len(layout.strakes)):
        joints = tuple(EndJoint(i + 1, x) for i, row in enumerate(rows) for x in row)
        if (best is None or len(joints) < best) and not breaches(replace(layout, joints=joints), rules):
            best = len(joints)
    return best


@pytest.mark.parametrize(
    ("strakes", "most", "longest"), [(2, 2, 2100.0), (2, 2, 2500.0), (3, 1, 3400.0), (3, 1, 2700.0)]
)
@pytest.mark.parametrize("shortest", [0.0, 3.0])
def test_fewest_joints_as_every_layout_tried(strakes, most, longest, shortest):  # reference: exhaustive search
    layout = shell(strakes=strakes, frames=12)
    rules = ButtRules("own", "test", (Apart(0, spaces=3), Apart(1, spaces=2)), shortest_spaces=shortest)
    wanted = exhaustive(layout, rules, longest, most)
    try:
        found = plan_butts(layout, [PlankStock(longest)], rules, QUICK)
    except BadPlank:
        assert wanted is None
    else:
        assert found.proved
        assert found.joints == wanted or (wanted is None and found.joints > most)


@settings(max_examples=8, deadline=None)
@given(
    strakes=st.integers(2, 6),
    spacing=st.lists(st.floats(250, 600), min_size=16, max_size=26),
    name=st.sampled_from(sorted(BUTT_RULES)),
    lengths=st.lists(st.tuples(st.floats(2500, 6000), st.integers(2, 20)), min_size=1, max_size=3),
    joint=st.sampled_from(["butt", "scarf"]),
    shift=st.sampled_from(sorted(SCARF_SHIFTS)),
    stay=st.integers(0, 2),
)
def test_any_plan_passes_the_checker(strakes, spacing, name, lengths, joint, shift, stay):
    x = [sum(spacing[:i]) for i in range(len(spacing) + 1)]
    runs = tuple(StrakeRun(i + 1, x[0] + 200 * (i % 2), x[-1], renew=i + 1 != stay) for i in range(strakes))
    kept = (EndJoint(stay, (x[6] + x[7]) / 2),) if 0 < stay <= strakes else ()
    layout = ShellLayout(tuple((str(i), at) for i, at in enumerate(x)), runs, kept)
    stock, rules = [PlankStock(*board) for board in lengths], butt_rules(name, shift)
    chosen = replace(QUICK, joint=joint, seconds=1.0)
    try:
        plan = plan_butts(layout, stock, rules, chosen)
    except BadPlank as error:
        assert "plan of butts" in str(error) or "cannot be made of boards" in str(error)  # noqa: PT017
        return
    assert not [breach for breach in breaches(plan.layout, rules) if set(breach.joints) - set(kept)]
    assert {j for j in plan.layout.joints if j.strake == stay} == set(kept)
    added = scarf(25, chosen.scarf_rule).added_mm if joint == "scarf" else 0.0
    needs = []
    for run in (run for run in runs if run.renew):
        ends = [run.first_mm, *(j.x_mm for j in plan.layout.joints if j.strake == run.number), run.last_mm]
        for number, (a, b) in enumerate(pairwise(ends)):
            needs.append(b - a + 100 + added * ((number > 0) + (number < len(ends) - 2)))
    assert sorted(needs) == pytest.approx(sorted(plank.length_mm for plank in plan.planks))
    left = sorted(length for length, count in lengths for _ in range(count))
    for need in sorted(needs, reverse=True):  # the longest plank takes the shortest board that holds it
        left.remove(next(length for length in left if length >= need - 1e-6))


def test_which_rule_bites_is_told():
    close = shell(strakes=2, frames=11)
    rules = ButtRules("own", "test", (Apart(0, spaces=9), Apart(3, spaces=1)))
    with pytest.raises(BadPlank, match=r"no plan of butts keeps all rules \(own\).*without any one of these: adjacent "
                                       r"strakes: 9 frame spaces apart\.$"):  # fmt: skip
        plan_butts(close, [PlankStock(2500)], rules, QUICK)
    with pytest.raises(BadPlank, match=r"without any one of these: the number of boards to hand\.$"):
        plan_butts(shell(strakes=3), [PlankStock(5000, 8)], ARMY, QUICK)


def test_stock_that_cannot_make_a_strake():
    with pytest.raises(BadPlank, match=r"strake 1 cannot be made of boards up to 2000 mm: the shortest plank allowed"):
        plan_butts(shell(), [PlankStock(2000)], ARMY, QUICK)
    with pytest.raises(BadPlank, match=r"strake 1 cannot be made of boards up to 300 mm: no run of planks"):
        plan_butts(shell(), [PlankStock(300)], ARMY, QUICK)
    with pytest.raises(BadPlank, match="stock: no boards"):
        plan_butts(shell(), [PlankStock(4000, 0)], ARMY, QUICK)


def test_joints_that_stay_are_kept_clear_of():
    layout = shell(joints=(EndJoint(3, SPACE * 9.5), EndJoint(3, SPACE * 17.5)))
    stays = tuple(replace(run, renew=run.number != 3) for run in layout.strakes)
    plan = plan_butts(replace(layout, strakes=stays), [PlankStock(5000)], YACHT, QUICK)
    assert breaches(plan.layout, YACHT) == ()
    assert sum(joint.strake == 3 for joint in plan.layout.joints) == 2
    assert not any(plank.strake == 3 for plank in plan.planks)
    fixed = plan_butts(layout, [PlankStock(5000)], YACHT, QUICK)  # renewed all the same, but jointed there
    assert {EndJoint(3, SPACE * 9.5), EndJoint(3, SPACE * 17.5)} <= set(fixed.layout.joints)


def test_closed_bays_take_no_joint():
    free = plan_butts(shell(strakes=1), [PlankStock(5500)], ARMY, QUICK)
    (joint,) = free.layout.joints
    i = int(joint.x_mm / SPACE)
    closed = tuple(f"{k}-{k + 1}" for k in range(1, 25) if k != 12)
    (only,) = plan_butts(shell(strakes=1), [PlankStock(5500)], ARMY, replace(QUICK, closed=closed)).layout.joints
    assert only.x_mm == SPACE * 11.5
    assert 0 < i < 24
    with pytest.raises(BadPlank, match="closed bays: '30-31' is no bay"):
        plan_butts(shell(), [PlankStock(5500)], ARMY, replace(QUICK, closed=("30-31",)))


def test_scarfs_take_their_length_from_the_boards():
    # one joint in 9.6 m, boards of 5.1 m: a butt leaves 400 mm to spare, a scarf of 12 × 40 mm takes 480
    butt = plan_butts(shell(strakes=1), [PlankStock(5100)], ARMY, QUICK)
    assert butt.joints == 1
    chosen = replace(QUICK, joint="scarf", thickness_mm=40)
    plan = plan_butts(shell(strakes=1), [PlankStock(5100)], ARMY, chosen)
    assert plan.joints == 2
    assert {(joint.kind, joint.length_mm) for joint in plan.layout.joints} == {("scarf", 480.0)}
    assert plan.blocks == ()  # a scarf takes no butt block


def test_scarfs_keep_apart_by_their_own_rule():
    free = replace(ARMY, scarfs=())
    scarfs = shell(joints=tuple(EndJoint(number, SPACE * 8.5, "scarf", 300.0) for number in (1, 2)))
    mixed = replace(scarfs, joints=(scarfs.joints[0], EndJoint(2, SPACE * 8.5)))
    assert [breach.rule for breach in breaches(scarfs, ARMY)] == ["adjacent strakes"]  # as butts, unless told otherwise
    assert breaches(scarfs, free) == ()
    assert [breach.rule for breach in breaches(mixed, free)] == ["adjacent strakes"]
    with pytest.raises(BadPlank, match="adjacent strakes: 9 frame spaces apart"):
        plan_butts(shell(strakes=2, frames=11), [PlankStock(2500)], replace(free, scarfs=(Apart(0, spaces=9),),
                   shortest_spaces=0), replace(QUICK, joint="scarf"))  # fmt: skip
    side_by_side = replace(free, shortest_spaces=0)
    plan = plan_butts(shell(strakes=5, frames=14), [PlankStock(3000)], side_by_side, replace(QUICK, joint="scarf"))
    assert plan.joints == 5
    assert breaches(plan.layout, side_by_side) == ()


def test_distances_are_told_from_the_end_of_a_scarf():  # 2000 mm between middles, scarfs of 600 and 400: 1500 clear
    feet = ButtRules("own", "test", (Apart(0, mm=1524),), on_frames=True)
    near = shell(joints=(EndJoint(1, 2000.0, "scarf", 600.0), EndJoint(2, 4000.0, "scarf", 400.0)))
    assert [breach.found for breach in breaches(near, feet)] == ["1500 mm"]
    assert breaches(replace(near, joints=(near.joints[0], EndJoint(2, 4000.0))), feet) == ()


def test_it_stops_when_told_and_tells_how_it_stands():
    seen = []

    def tick(progress):
        seen.append(progress)
        return progress.joints is not None

    big = shell(strakes=14, frames=33)
    plan = plan_butts(big, [PlankStock(4800, 30), PlankStock(3900)], ARMY, replace(QUICK, seconds=20), tick=tick)
    assert breaches(plan.layout, ARMY) == ()
    assert plan.joints >= plan.bound
    assert all(progress.seconds < 20 for progress in seen)


def test_lengths_along_the_strake_rule():  # a strake longer than the boat along it needs longer boards
    run = StrakeRun(1, 0.0, SPACE * 24, along_mm=((0.0, 0.0), (SPACE * 24, SPACE * 24 * 1.1)))
    layout = replace(shell(strakes=1), strakes=(run,))
    plan = plan_butts(layout, [PlankStock(5500)], ARMY, QUICK)
    assert sum(plank.length_mm for plank in plan.planks) == pytest.approx(SPACE * 24 * 1.1 + 100 * len(plan.planks))


def test_plain_values_and_what_cannot_be():
    layout = shell(joints=(EndJoint(2, SPACE * 5.5),), opposite_mm=(100.0,))
    assert ShellLayout.from_mapping(asdict(layout)) == layout
    assert ButtRules.from_mapping(asdict(ARMY)) == ARMY
    own = butt_rules("clinker", "not in one bay")
    assert ButtRules.from_mapping(asdict(own)) == own
    with pytest.raises(BadPlank, match="shift of scarfs 'any' is not known; known are as butts"):
        butt_rules("clinker", "any")
    with pytest.raises(BadPlank, match="butts, strake 2: a butt at station 99999 mm, after frame 25, beyond"):
        replace(layout, joints=(EndJoint(2, 99_999.0),))
    with pytest.raises(BadPlank, match="strake 9 is not in this shell"):
        replace(layout, joints=(EndJoint(9, 500.0),))
    with pytest.raises(BadPlank, match="butt rules 'navy' are not known; known are army"):
        butt_rules("navy")
    with pytest.raises(BadPlank, match=r"butt rules 'own', adjacent strakes: -1"):
        ButtRules("own", "mine", (Apart(0, spaces=-1),))

"""Whatever the yard, the plan can be carried out: looked over by the checker, which knows nothing of the search."""

import contextlib
from dataclasses import replace
from datetime import date, datetime, timedelta
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from yards import ALL, HANDS, LABELS, MONDAY, QUICK, frames, job, yard

from scrieve.errors import BadPlan
from scrieve.workplan import Did, HullRules, Job, Member, Person, Setups, Yard, faults, whatif
from scrieve.workplan.calendar import DAYS
from scrieve.workplan.check import _quarters
from scrieve.workplan.first import first_plan, tails
from scrieve.workplan.kinds import kind_of, kinds_for
from scrieve.workplan.members import Reading
from scrieve.workplan.plan import Plan
from scrieve.workplan.solve import _entries, make_plan, moved
from scrieve.workplan.work import prepare

DAYS_OFF = st.frozensets(st.integers(0, 25).map(lambda n: date(2026, 3, 2) + timedelta(days=n)), max_size=5)


@st.composite
def yards(draw):
    people = [Person("Lead", ALL, draw(DAYS_OFF))]
    people += [Person(f"Hand {n}", draw(st.sampled_from([HANDS, frozenset({"hull", "bench"})])), draw(DAYS_OFF))
               for n in range(draw(st.integers(1, 2)))]  # fmt: skip
    hull = HullRules(draw(st.integers(1, 3)), draw(st.integers(1, 3)), 1, draw(st.integers(1, 3)),
                     draw(st.booleans()), draw(st.booleans()), draw(st.booleans()))  # fmt: skip
    shed = ((datetime(2000, 1, 1), draw(st.floats(12, 24))), (datetime(2026, 3, 10), draw(st.floats(12, 24))))
    jigs, clamps = draw(st.integers(1, 2)), draw(st.sampled_from([14, 30]))
    return Yard(tuple(people), jigs=jigs, clamps=clamps, hull=hull, shed=shed, closed=draw(DAYS_OFF), **QUICK)


@st.composite
def jobs(draw):
    labels = sorted(draw(st.sets(st.sampled_from(LABELS), min_size=1, max_size=4)), key=int)
    sides, strakes = st.sampled_from("PS"), st.sampled_from([None, 1, 4, 8])
    count = draw(st.integers(0, 2))
    planks = tuple(Member("plank", f"p{n}", 30.0, 0, draw(sides), draw(strakes), LABELS[2:9]) for n in range(count))
    n = len(labels)
    minutes = draw(st.lists(st.floats(5, 60), min_size=n * n, max_size=n * n))
    setups = draw(
        st.sampled_from([None, Setups(tuple(labels), np.array(minutes[:n]), np.array(minutes).reshape(n, n))])
    )
    return Job(frames(*labels) + planks, LABELS, {}, setups)


def laid_out(yard_, job_, **how):
    """The plan made by rule of thumb alone; shaken by a seed unless an order is given."""
    work = prepare(yard_, job_, MONDAY, 180)
    return Plan(MONDAY, _entries(work, first_plan(work, **(how or {"seed": 3}))))


def proved(yard_, job_, **how):
    """The best plan, proved, however long a busy machine takes over it; the search for a calm one is cut short."""
    plan = make_plan(yard_, job_, MONDAY, seconds=100.0, tick=lambda now: now.what == "seeking the best plan", **how)
    assert plan.proved
    return plan


@given(yards(), jobs())
@settings(max_examples=12, deadline=None)
def test_a_plan_by_rule_of_thumb_can_be_carried_out(yard_, job_):
    assert faults(laid_out(yard_, job_), yard_, job_) == ()


@pytest.mark.parametrize("people", [2, 3])
def test_a_plan_that_was_sought_can_be_carried_out_and_is_no_longer(people):
    crew = yard(people, jigs=people - 1, hull=HullRules(1, 2))
    what = job("3", "4", planks=(Member("plank", "garboard", 30.0, 0, "P", 1, LABELS[2:6]),))
    found = make_plan(crew, what, MONDAY, seconds=1.5)
    assert faults(found, crew, what) == ()
    assert found.finish <= laid_out(crew, what, ranks={"frame 3": 0.0, "frame 4": 1.0}).finish
    assert found.bound <= found.value
    assert {entry.op for entry in found.entries} == {op for member in what.members for op in member.ops}


SPOILT = {
    "two things at once": (lambda e, at: replace(e, starts=at("frame 4: stock").starts, ends=at("frame 4: stock").ends,
                                                  people=at("frame 4: stock").people), "at once"),
    "out of hours": (lambda e, at: replace(e, starts=e.starts - timedelta(hours=12), ends=e.ends - timedelta(hours=12)),
                     "out of shop hours"),
    "before the cure": (lambda e, at: replace(e, starts=at("frame 3: glue").ends, ends=at("frame 3: glue").ends
                                              + (e.ends - e.starts)), "is over only"),
}  # fmt: skip


@pytest.mark.parametrize("how", SPOILT)
def test_the_checker_sees_what_is_spoilt(how):
    crew, what = yard(2), job("3", "4")
    plan = laid_out(crew, what)
    change, said = SPOILT[how]
    victim = "frame 3: stock" if how == "two things at once" else "frame 3: release"
    entries = tuple(change(e, plan.by_op.get) if e.op == victim else e for e in plan.entries)
    assert any(said in fault for fault in faults(Plan(MONDAY, entries), crew, what))


@pytest.mark.parametrize("old_counts", [False, True])
def test_neighbours_are_never_out_together_and_the_checker_would_tell(old_counts):
    crew = yard(3, hull=HullRules(sound_between=2, frames_out=3, old_counts=old_counts))
    what = job("3", "4")
    plan = laid_out(crew, what)
    assert faults(plan, crew, what) == ()
    first, second = sorted(("frame 3", "frame 4"), key=lambda key: plan.span(key, "out", "inspect"))
    assert plan.span(first, "out", "inspect")[1] <= plan.span(second, "out", "inspect")[0]
    early = plan.by_op[f"{first}: out"].starts
    moved = tuple(replace(e, starts=early) if e.op == f"{second}: out" else e for e in plan.entries)
    assert any("out at once" in fault for fault in faults(Plan(MONDAY, moved), crew, what))


@pytest.mark.parametrize(("other", "waits"), [("4", True), ("9", False)])
def test_what_is_open_now_holds_its_neighbour_in(other, waits):
    """Frame 3 is out as the plan is made; another is ready to be taken out at once, and hands are there: a neighbour
    waits until 3 is signed, one far off does not."""
    crew = yard(4, hull=HullRules(sound_between=2, frames_out=2))
    made = [kind.key for kind in kinds_for("frame")]
    done = {f"frame 3: {key}": Did(MONDAY, MONDAY, ("Lead",)) for key in made[: made.index("fit")]}
    done |= {f"frame {other}: {key}": Did(MONDAY, MONDAY, ("Lead",)) for key in made[: made.index("out")]}
    what = Job(frames("3", other), LABELS, done)
    plan = laid_out(crew, what, ranks={})
    assert faults(plan, crew, what) == ()
    assert (plan.by_op[f"frame {other}: out"].starts >= plan.by_op["frame 3: inspect"].ends) is waits


@pytest.mark.parametrize(("strakes", "together"), [((2, 4), False), ((2, 5), True)])
def test_planks_too_near_one_another_are_not_off_together(strakes, together):
    """Hands enough for both at once, and two may be off: with one strake between they are not, with two they are."""
    crew = yard(6, hull=HullRules(planks_off=2, strakes_between=2), machines={"saw": 2, "planer": 2, "bandsaw": 2,
                                                                              "steam box": 2})  # fmt: skip
    what = Job(tuple(Member("plank", f"p{n}", 10.0, 0, "P", n) for n in strakes), LABELS)
    plan = laid_out(crew, what, ranks={})
    assert faults(plan, crew, what) == ()
    first, second = sorted(plan.span(member.key, "out", "inspect") for member in what.members)
    assert (second[0] < first[1]) is together


def test_the_search_itself_keeps_neighbours_apart():
    """Two neighbours, hands and jigs enough to do both at once: without the rule the search would."""
    crew = yard(6, jigs=2, clamps=60, hull=HullRules(sound_between=1, frames_out=2))
    plan = make_plan(crew, job("3", "4"), MONDAY, seconds=2)
    apart = sorted(plan.span(key, "out", "inspect") for key in ("frame 3", "frame 4"))
    assert apart[0][1] <= apart[1][0]
    far = make_plan(crew, job("3", "5"), MONDAY, seconds=2)
    assert far.finish < plan.finish, "with a sound frame between, both are out at once"


def test_waiting_old_frames_do_not_hold_the_hull_unless_the_builder_says_so():
    """3 and 6 have 4 and 5 between, both to be renewed: they may be out together only once those are sound."""
    crew = yard(4, hull=HullRules(sound_between=2, frames_out=2), jigs=2, clamps=60)
    what = job("3", "4", "5", "6")
    plan = laid_out(crew, what)
    assert faults(plan, crew, what) == ()
    counts = replace(crew, hull=replace(crew.hull, old_counts=True))
    assert faults(plan, counts, what) == ()
    work, lax = (prepare(each, what, MONDAY, 90) for each in (crew, counts))
    assert len(lax.frame_pairs) < len(work.frame_pairs)


def test_what_is_done_stays_done_and_what_is_open_is_closed():
    crew, what = yard(2), job("3", "8")
    first = laid_out(crew, what)
    now = first.by_op["frame 3: fit"].starts + timedelta(minutes=30)
    done = {e.op: Did(e.starts, e.ends if e.ends <= now else None, e.people, e.jig)
            for e in first.entries if e.starts < now}  # fmt: skip
    later = Job(what.members, LABELS, done)
    again = make_plan(crew, later, now.replace(minute=45), before=first, seconds=1.5)
    assert faults(again, crew, later) == ()
    assert not {op for op, did in done.items() if did.finished} & {e.op for e in again.entries}
    assert {e.starts for e in again.entries if e.running} == {again.made}, "what is under way goes on at once"


def test_planned_anew_with_nothing_changed_moves_nothing():
    crew, what = yard(2), job("3", "8")
    first = make_plan(crew, what, MONDAY, seconds=1.5)
    again = make_plan(crew, what, MONDAY, before=first, seconds=1.5)
    assert again.moved == 0
    assert again.finish <= first.finish


def test_planned_anew_after_a_mishap_moves_less_than_from_nothing():
    """A frame's stock was not got out after all. However short the search, what can stay stays, where that finishes
    within the days that the yard gives for it; and where it gives none, the plan finishes as early as was found."""
    crew, what = yard(2, calm_days=3.0), job("3", "7", "11")
    first = laid_out(crew, what)
    now = first.by_op["frame 3: set"].starts.replace(minute=0)
    done = {e.op: Did(e.starts, e.ends, e.people) for e in first.entries if e.ends <= now and "frame 11" not in e.op}
    left = Job(what.members, LABELS, done)
    kept = make_plan(crew, left, now, before=first, seconds=0.5)
    anew = make_plan(crew, left, now, seconds=0.5, seed=5)
    haste = make_plan(replace(crew, calm_days=0.0), left, now, before=first, seconds=0.5)
    for plan, days in ((kept, 3.0), (haste, 0.0)):
        assert faults(plan, crew, left) == ()
        assert _quarters(now, plan.finish, crew) <= (plan.value + days) * crew.ticks_a_day + 1
    assert moved(first, kept.entries) < 0.6 * moved(first, anew.entries)


def test_a_warmer_shed_never_finishes_later():
    """Cure runs faster in the warm, so the shortest plan of the warm shed is no longer: both proved."""
    cold, warm = (yard(2, shed=((datetime(2000, 1, 1), c),)) for c in (12.0, 22.0))
    plans = [proved(each, job("3")) for each in (cold, warm)]
    assert plans[1].finish <= plans[0].finish
    for plan in plans:  # what is possible at the least by rule is no more than what was proved
        assert 0.5 * plan.value * 32 < max(tails(prepare(yard(2), job("3"), MONDAY, 90))) <= plan.value * 32


def test_each_frame_waits_by_its_own_glue():
    """Two frames, one glued with a family whose sheet asks for four days: only that one is held longer,
    and a plan in which it is not held so long is seen to be at fault."""
    slow = {"resorcinol": {"clamp_h": 96, "full_cure_h": 120}}
    crew = yard(3, sheets=slow, shed=((datetime(2000, 1, 1), 24.0),), week=dict.fromkeys(DAYS, ((480, 1020),)))
    one, other = (replace(each, glue=glue) for each, glue in zip(frames("3", "9"), ("", "resorcinol"), strict=True))
    what = Job((one, other), LABELS)
    plan = laid_out(crew, what)
    assert faults(plan, crew, what) == ()
    held = {label: plan.by_op[f"frame {label}: release"].starts - plan.by_op[f"frame {label}: glue"].ends
            for label in ("3", "9")}  # fmt: skip
    assert held["3"] < timedelta(hours=48) < held["9"]
    assert any("frame 3" in said for said in faults(plan, replace(crew, sheet={"clamp_h": 90}), what))
    assert not any("frame 9" in said for said in faults(plan, replace(crew, sheet={"clamp_h": 90}), what))


def test_a_frame_in_its_clamps_waits_by_what_was_read_and_others_by_what_is_expected():
    """Ten hours in the clamps at 20 °C by a rule of twice the time for each 10 °C: read at 10 °C for longer than that,
    twenty. A frame glued a week later is as at 20 °C; one glued beside it waits by its own glue line, kept warm."""
    crew = yard(2, jigs=2, clamps=60, sheet={"clamp_h": 10}, shed=((datetime(2000, 1, 1), 20.0),))
    closed = MONDAY - timedelta(hours=8)
    done = {f"frame {label}: {key}": Did(closed, closed, ("Lead",), jig)
            for label, jig in (("3", 1), ("6", 2)) for key in ("stock", "plane", "set", "dry", "glue")}  # fmt: skip
    warm = Reading(closed, 20.0, "frame 6"), Reading(closed + timedelta(hours=20), 20.0, "frame 6")
    cold = tuple(Reading(closed + timedelta(hours=n), 10.0) for n in (0, 12, 24))
    what = Job(frames("3", "6", "9"), LABELS, done)
    read = replace(what, readings=(*cold, *warm))
    ready = {}
    for each in (what, read):
        work = prepare(crew, each, MONDAY, 60)
        at = {op.name: work.calendar.start_at(op.earliest) for op in work.ops}
        ready[each] = at["frame 3: release"], at["frame 6: release"]
        plan = laid_out(crew, each)
        assert faults(plan, crew, each) == ()
        held = plan.by_op["frame 9: release"].starts - plan.by_op["frame 9: glue"].ends
        assert timedelta(hours=10) <= held < timedelta(hours=20)
    assert ready[what] == (MONDAY + timedelta(hours=2),) * 2
    assert ready[read] == (MONDAY + timedelta(days=1), MONDAY + timedelta(hours=2)), "twelve hours on, the shop is shut"
    assert any("frame 3" in said for said in faults(laid_out(crew, what), crew, read))


@pytest.mark.parametrize(
    ("glued", "first", "then", "hours"),
    [("bench", "scarf", "shape", 30), ("hull", "hang", "inspect", 20), ("hull", "hang", "caulk", 30)],
)
def test_scarfs_of_planks_cure_by_the_shed_as_frames_do(glued, first, then, hours):
    """At the temperature of its sheet glue takes the sheet's hours: 20 h in the clamps, 30 h to full strength, day and
    night. A plank without glued joints does not wait; at 10 °C a rule of twice the time for each 10 °C doubles it."""
    crew = yard(2, sheet={"clamp_h": 20, "full_cure_h": 30}, shed=((datetime(2000, 1, 1), 20.0),))
    planks = tuple(Member("plank", name, 10.0, 0, "P", n, glued=how)
                   for name, n, how in (("glued", 1, (glued,)), ("plain", 9, ())))  # fmt: skip
    what = Job(planks, LABELS)
    plan = laid_out(crew, what)
    assert faults(plan, crew, what) == ()
    at = plan.by_op
    assert at[f"plank glued: {then}"].starts - at[f"plank glued: {first}"].ends >= timedelta(hours=hours)
    assert "plank plain: scarf" not in at
    row = kinds_for("plank")
    before = row[[kind.key for kind in row].index(then) - 1].key
    assert at[f"plank plain: {then}"].starts - at[f"plank plain: {before}"].ends < timedelta(hours=18)
    colder = replace(crew, shed=crew.temperatures.colder(10.0).entries)
    assert any(f"plank glued: {kind_of('plank', then).words}" in said for said in faults(plan, colder, what))
    assert faults(laid_out(colder, what), colder, what) == ()


def test_planks_of_one_strake_are_hung_together_where_that_is_the_rule():
    """Starboard's stock settles two weeks later: without the rule port does not wait for it, with it both are near."""
    port, starboard = (Member("plank", f"garboard {side}", thick, 0, side, 1)  # type: ignore[arg-type]
                       for side, thick in (("P", 10.0), ("S", 40.0)))  # fmt: skip
    what = Job((*frames("3"), port, starboard, Member("plank", "topside", 25.0, 0, "S", 8)), LABELS)
    crew = yard(2, moisture_days=14.0, hull=HullRules(ready_first=True, frames_first=False))
    ruled = replace(crew, hull=replace(crew.hull, pair_days=1))
    free = laid_out(crew, what)
    assert any("hung" in said and "apart; 1 days" in said for said in faults(free, ruled, what))
    assert faults(laid_out(ruled, what), ruled, what) == ()
    plan = make_plan(ruled, what, MONDAY, before=free, seconds=1.5)
    assert faults(plan, ruled, what) == ()
    hung = [plan.by_op[each.op("hang")].starts for each in (port, starboard)]
    assert abs(hung[0].date() - hung[1].date()) <= timedelta(days=3), "a day of the shop, over a weekend at the most"


def test_a_second_jig_never_makes_the_work_longer_by_a_search_with_less_luck(monkeypatch):
    """Each change is given a plan by rule of thumb; the second jig a bad one, in which frame 8 waits until all else is
    done. What was found without it can be carried out with it and stands for it; with one away it cannot, and does not.
    """
    what, crew = job("3", "8"), yard(3)

    def by_thumb(yard_, job_, now, **_):
        ranks = {"frame 3": 0.0, "frame 8": 1.0}
        work = prepare(yard_, job_, now, 180)
        length = first_plan(work, ranks=ranks).length
        if yard_.jigs == 2:
            work = replace(work, ops=tuple(replace(op, earliest=length if op.name == "frame 8: stock" else op.earliest)
                                           for op in work.ops))  # fmt: skip
        laid = first_plan(work, ranks=ranks)
        return Plan(now, _entries(work, laid), value=laid.length / 32)

    monkeypatch.setattr(whatif, "make_plan", by_thumb)
    changes = whatif.usual_changes(crew, MONDAY, away="Hand 2", away_days=10)
    is_, jigs, colder, away = (one.plan for one in whatif.compare(changes, what, MONDAY, seconds=1.0))
    assert by_thumb(changes[1].yard, what, MONDAY).finish > is_.finish
    assert jigs.finish == is_.finish
    assert away.entries != is_.entries
    for plan, change in zip((is_, jigs, colder, away), changes, strict=True):
        assert faults(plan, change.yard, what) == ()


def test_the_fewest_people_are_as_few_as_any_choice_of_them_allows():
    """Every choice of people is tried, each planned for the shortest finish and proved: the fewest who can be done by a
    date, over dates from too early to easy, are as many as the search for the fewest says."""
    crew = (Person("Lead", frozenset({"sign"})), Person("Ann", HANDS), Person("Bo", frozenset({"machines", "bench"})),
            Person("Cy", frozenset({"hull", "bench"})))  # fmt: skip
    planks = (Member("plank", "one", 2.0, 0, "P", 1), Member("plank", "two", 2.0, 0, "S", 9))
    what, base = Job(planks, LABELS), yard(1, moisture_days=0.0, paint_h=0.0)
    finish = {}
    for size in range(1, 5):
        for chosen in combinations(crew, size):
            with contextlib.suppress(BadPlan):  # a skill is missing
                finish[chosen] = proved(replace(base, people=chosen), what).finish.date()
    fewest = {}
    for day in sorted(set(finish.values())):
        fewest[day] = min(len(chosen) for chosen, ends in finish.items() if ends <= day)
        plan = proved(replace(base, people=crew, aim="people", finish_by=day), what)
        used = {name for entry in plan.entries for name in entry.people}
        assert (len(used), plan.value, plan.late_days) == (fewest[day], fewest[day], 0.0)
        assert faults(plan, replace(base, people=crew), what) == ()
    assert len(set(fewest.values())) > 1, "the dates tell crews apart"


TWO = tuple(Member("plank", name, 2.0, 0, side, n) for name, side, n in (("one", "P", 1), ("two", "S", 9)))
ALONE = yard(2, moisture_days=0.0, paint_h=0.0, minutes={"plank shape": 960.0})


@pytest.mark.parametrize("wanted", ["plank one", "plank two"])
def test_what_is_wanted_by_a_date_comes_first(wanted):
    """Two people, who do a plank together: the one that is wanted is ready as soon as if it were alone."""
    alone = make_plan(ALONE, Job((next(m for m in TWO if m.key == wanted),), LABELS), MONDAY, seconds=2.0)
    due = alone.finish.date()
    plan = make_plan(replace(ALONE, due={wanted: due}), Job(TWO, LABELS), MONDAY, seconds=2.0)
    ends = {m.key: plan.by_op[m.op("caulk")].ends.date() for m in TWO}
    assert ends[wanted] == due < max(ends.values())
    assert plan.late_days == 0.0


@pytest.mark.parametrize("aim", ["finish", "people"])
def test_days_after_the_date_are_counted_and_sought_to_be_few(aim):
    """All wanted by Monday, which nobody can do. For the fewest people time lost weighs more than all people."""
    late = replace(ALONE, finish_by=MONDAY.date(), aim=aim)
    plan = make_plan(late, Job(TWO, LABELS), MONDAY, seconds=2.0)
    midnight = datetime(2026, 3, 3)
    quarters = sum(_quarters(midnight, plan.by_op[m.op("caulk")].ends, late) for m in TWO)
    assert plan.late_days == quarters / late.ticks_a_day > 0
    first = laid_out(ALONE, Job(TWO, LABELS))
    assert quarters <= sum(_quarters(midnight, first.by_op[m.op("caulk")].ends, late) for m in TWO)


def test_a_search_that_is_stopped_keeps_the_best_so_far():
    crew, what, told = yard(3), job("3", "5", "7", "9", "11"), []

    def stop(now):
        told.append(now)
        return now.best is None  # as soon as there is one

    plan = make_plan(crew, what, MONDAY, seconds=60.0, tick=stop)
    assert plan.stopped
    assert not plan.proved
    assert faults(plan, crew, what) == ()
    assert told[-1].bound <= told[-1].best
    assert plan.finish <= laid_out(crew, what, ranks={f"frame {label}": float(label) for label in LABELS}).finish

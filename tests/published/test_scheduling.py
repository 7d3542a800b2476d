"""Projects whose shortest schedule is known without a solver: by hand, by a closed form, or by trying every order.

Sources: reference problems of this project found by exhaustive search (each optimum below is found again here by trying
every order); J. R. Jackson's and S. M. Johnson's classic results in closed form: two machines in a row, Johnson's rule
(Naval Research Logistics Quarterly 1, 1954). The text format is that of the openly published project sets (.sm).
"""

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scrieve.workplan import BadPlan, Project, Task, read_project, schedule, write_project
from scrieve.workplan.project import faults, in_turn

#: Seven jobs by hand; R1 has 4. Job 2 takes 3 of it, so neither 3 nor 4 (2 each) goes beside it. If 4 comes before 2,
#: then 5 + 4 + 3 (job 5, after 2) = 12. If 2 comes first, 4 + 5 + 2 (job 6, after 4) = 11, and so it goes: 2 to 4, 3 to
#: 7, 4 to 9, 5 from 7 to 10, 6 from 9 to 11.
HAND = """\
************************************************************************
file with basedata            : OWN7_.BAS
initial value random generator: 1924
************************************************************************
projects                      :  1
jobs (incl. supersource/sink ):  7
horizon                       :  17
RESOURCES
  - renewable                 :  1   R
  - nonrenewable              :  0   N
  - doubly constrained        :  0   D
************************************************************************
PROJECT INFORMATION:
pronr.  #jobs rel.date duedate tardcost  MPM-Time
    1      5      0       17       9        7
************************************************************************
PRECEDENCE RELATIONS:
jobnr.    #modes  #successors   successors
   1        1          3           2   3   4
   2        1          1           5
   3        1          1           6
   4        1          1           6
   5        1          1           7
   6        1          1           7
   7        1          0
************************************************************************
REQUESTS/DURATIONS:
jobnr. mode duration  R 1
------------------------------------------------------------------------
  1      1     0       0
  2      1     4       3
  3      1     3       2
  4      1     5       2
  5      1     3       1
  6      1     2       1
  7      1     0       0
************************************************************************
RESOURCEAVAILABILITIES:
  R 1
    4
************************************************************************
"""


def every_order(project):
    """The least length over every order of the tasks, each begun as early as it goes (an optimum is among these:
    serial schedules generate all active ones)."""
    n, best = len(project.tasks), 10**9
    before = [{b for b, t in enumerate(project.tasks) if n_ in t.after} for n_ in range(n)]
    for order in itertools.permutations(range(n)):
        if any(not before[task] <= set(order[:at]) for at, task in enumerate(order)):
            continue
        horizon = sum(t.duration for t in project.tasks) + 1
        used = np.zeros((len(project.capacities), horizon), dtype=int)
        ends = {}
        for task in order:
            t = project.tasks[task]
            at = max((ends[b] for b in before[task]), default=0)
            needs = np.array(t.needs, dtype=int)[:, None]
            while (used[:, at : at + t.duration] + needs > np.array(project.capacities)[:, None]).any():
                at += 1
            used[:, at : at + t.duration] += needs
            ends[task] = at + t.duration
        best = min(best, max(ends.values()))
    return best


def test_a_file_made_by_hand_is_read_and_solved():
    project = read_project(HAND)
    assert project.capacities == (4,)
    assert project.tasks[1] == Task(4, (3,), (4,))
    found = schedule(project, 5)
    assert (found.length, found.proved, faults(project, found.starts)) == (11, True, ())
    assert every_order(project) == 11
    assert read_project(write_project(project)) == project


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (
            "   3        1          1           6",
            "   3        1          2           6",
            r"line 21: found \[3, 1, 2, 6\]",
        ),
        ("  3      1     3       2", "  3      1     3", "line 32: .*expected job, mode"),
        ("   2        1  ", "   2        3  ", "line 20: job 2 has 3 modes; projects of one mode are read"),
        ("nonrenewable              :  0", "nonrenewable              :  2", "line 10: 2 nonrenewable resources"),
        ("doubly constrained        :  0", "doubly constrained        :  1", "line 11: 1 doubly constrained"),
        ("   3        1          1           6", "   2        1          1           5", "line 21: job 2 stands there"),
        ("  3      1     3       2", "  2      1     3       2", "line 32: job 2 stands there twice"),
        (
            "  3      1     3       2",
            "  3      1     3.5     2",
            "line 32: found '3      1     3.5     2'; expected whole",
        ),
        ("  3      1     3       2", "  9      1     3       2", "not numbered from 1 to 7"),
        ("   3        1          1           6", "   3        1          1           9", "task 9, which there is not"),
        ("RESOURCEAVAILABILITIES:", "RESOURCES THERE:", "no section 'RESOURCEAVAILABILITIES'"),
        ("   6        1          1           7", "   6        1          1           3", "wait for one another"),
        ("  2      1     4       3", "  2      1     4       5", "needs 5 of resource 1, of which there are 4"),
    ],
)
def test_a_damaged_file_is_refused_with_its_line(old, new, said):
    with pytest.raises(BadPlan, match=said):
        read_project(HAND.replace(old, new))


@st.composite
def projects(draw):
    """Six tasks, two resources, precedences from lower to higher numbers."""
    tasks = []
    capacities = (draw(st.integers(2, 4)), draw(st.integers(2, 4)))
    for n in range(6):
        after = draw(st.sets(st.integers(n + 1, 5), max_size=2)) if n < 5 else set()
        needs = tuple(draw(st.integers(0, c)) for c in capacities)
        tasks.append(Task(draw(st.integers(1, 5)), needs, tuple(sorted(after))))
    return Project(tuple(tasks), capacities)


@given(projects())
@settings(max_examples=12, deadline=None)
def test_no_order_of_six_tasks_is_shorter(project):
    found = schedule(project, 5, workers=1)
    assert faults(project, found.starts) == ()
    assert found.proved
    assert found.length == every_order(project)
    assert project.least() <= found.length <= max(s + t.duration for s, t in zip(in_turn(project), project.tasks,
                                                                                  strict=True))  # fmt: skip


@pytest.mark.parametrize("seed", range(3))
def test_two_machines_in_a_row_take_what_johnsons_rule_says(seed):
    """Each of eight jobs goes first over one machine, then over another. Johnson: those quicker on the first in rising
    order, then the others in falling order of the second; no order is shorter."""
    rng = np.random.default_rng(seed)
    first, second = rng.integers(1, 12, (2, 8))
    order = sorted((j for j in range(8) if first[j] <= second[j]), key=lambda j: first[j])
    order += sorted((j for j in range(8) if first[j] > second[j]), key=lambda j: -second[j])
    one = two = 0
    for j in order:
        one += first[j]
        two = max(one, two) + second[j]
    tasks = [Task(int(first[j]), (1, 0), (8 + j,)) for j in range(8)]
    tasks += [Task(int(second[j]), (0, 1)) for j in range(8)]
    found = schedule(Project(tuple(tasks), (1, 1)), 5)
    assert (found.length, found.proved) == (two, True)


def test_the_checker_sees_a_broken_precedence_and_a_resource_asked_too_much():
    project = read_project(HAND)
    starts = list(schedule(project, 5).starts)
    early = [0 if n == 5 else s for n, s in enumerate(starts)]
    assert any("task 6 starts at 0, before" in fault for fault in faults(project, early))
    assert any("of resource 1 are needed" in fault for fault in faults(project, [0] * 7))

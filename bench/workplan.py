"""The general solver of the work plan on projects in the style of the published set of thirty jobs.

    python bench/workplan.py FOLDER --optima FILE       the published set, where you have it
    python bench/workplan.py [--each N] [--seconds S] [--cpu S] [--out FOLDER]

The published set (480 projects of thirty jobs, .sm, and a table of their optima) is not shipped. Put its files into a
folder and name that, or single files: they are solved, and held against the bar: 95 % of them proved optimal within
10 s each, none more than 2 % over the known optimum. The table of optima has a row for each project: the two numbers of
its file's name (j304_7.sm: 4 and 7) and the optimum; whatever else stands in it is passed over. Without the table the
second half of the bar is judged where ours is proved: then there is none shorter.

Without files, projects are generated from a seed after the same three measures (Kolisch, Sprecher and Drexl, Management
Science 41, 1995): network complexity (arcs not redundant to each job: 1.5, 1.8, 2.1), resource factor (share of the
resources that a job asks for: 0.25 to 1) and resource strength (how far the capacity lies between the least that will
do and the peak of the earliest schedule: 0.2 to 1); thirty jobs of 1 to 10 units, four resources of which a job asks 1
to 10, no more than three successors and three predecessors. 48 cells, of which `--each` projects are made.

Told: share proved optimal within `--cpu` seconds of processor time (all threads together), the worst gap proved of the
rest, faults found by the independent checker, and whether the bar is met. Of generated projects no optimum is known but
by proof: they stand in for the published ones and are not them.
"""

from __future__ import annotations

import argparse
import re
import time
from pathlib import Path

import numpy as np

from scrieve.workplan.project import Project, Schedule, Task, faults, schedule
from scrieve.workplan.project_file import read_project, write_project

COMPLEXITY = (1.5, 1.8, 2.1)
FACTOR = (0.25, 0.5, 0.75, 1.0)
STRENGTH = (0.2, 0.5, 0.7, 1.0)
MOST = 3
#: The bar: share proved optimal within the time, and how far any may lie over the known optimum.
SHARE, OVER = 0.95, 0.02


def network(rng: np.random.Generator, jobs: int, complexity: float) -> list[set[int]]:
    """Successors of each job, 0 the source and jobs + 1 the sink, no arc redundant, MOST either way within."""
    last = jobs + 1
    after: list[set[int]] = [set() for _ in range(jobs + 2)]
    before: list[set[int]] = [set() for _ in range(jobs + 2)]
    first, final = range(1, 4), range(jobs - 2, jobs + 1)

    def join(a: int, b: int) -> None:
        after[a].add(b)
        before[b].add(a)

    for job in first:
        join(0, job)
    for job in final:
        join(job, last)
    for job in range(4, jobs + 1):  # one predecessor each
        choice = [a for a in range(1, min(job, jobs - 2)) if len(after[a]) < MOST]
        join(int(rng.choice(choice)), job)
    for job in range(1, jobs - 2):  # one successor each
        if not after[job]:
            choice = [b for b in range(max(job + 1, 4), jobs + 1) if len(before[b]) < MOST] or [jobs]
            join(job, int(rng.choice(choice)))

    def reach(a: int) -> set[int]:
        found, todo = set(), [a]
        while todo:
            for b in after[todo.pop()]:
                if b not in found:
                    found.add(b)
                    todo.append(b)
        return found

    for _ in range(4000):
        if sum(map(len, after)) >= complexity * (jobs + 2):
            break
        a, b = sorted(int(j) for j in rng.choice(np.arange(1, jobs + 1), 2, replace=False))
        if b < 4 or a > jobs - 3 or len(after[a]) >= MOST or len(before[b]) >= MOST or b in reach(a):
            continue
        behind, ahead = {a} | {c for c in range(jobs + 2) if a in reach(c)}, {b} | reach(b)
        if any(y in after[x] for x in behind for y in ahead):
            continue  # it would make an arc redundant
        join(a, b)
    return after


def generated(
    seed: int, complexity: float, factor: float, strength: float, jobs: int = 30, resources: int = 4
) -> Project:
    """One project of these measures."""
    rng = np.random.default_rng(seed)
    after = network(rng, jobs, complexity)
    durations = [0, *(int(d) for d in rng.integers(1, 11, jobs)), 0]
    needs = np.zeros((jobs + 2, resources), dtype=int)
    asked = round(factor * jobs * resources)
    cells = [(job, int(rng.integers(resources))) for job in range(1, jobs + 1)]  # each asks for one at the least
    others = [(j, r) for j in range(1, jobs + 1) for r in range(resources) if (j, r) not in cells]
    cells += [others[i] for i in rng.permutation(len(others))[: max(asked - jobs, 0)]]
    for job, r in cells:
        needs[job, r] = int(rng.integers(1, 11))
    free = Project(tuple(Task(d, (), tuple(sorted(a))) for d, a in zip(durations, after, strict=True)))
    early, span = free.earliest(), max(free.earliest())
    capacities = []
    for r in range(resources):
        use = np.zeros(span + 1)
        for job, at in enumerate(early):
            use[at : at + durations[job]] += needs[job, r]
        least, most = int(needs[:, r].max()), int(use.max())
        capacities.append(least + round(strength * (most - least)))
    tasks = (Task(d, tuple(int(n) for n in row), tuple(sorted(a)))
             for d, row, a in zip(durations, needs, after, strict=True))  # fmt: skip
    return Project(tuple(tasks), tuple(capacities))


def cells(each: int) -> list[tuple[str, Project]]:
    """`each` projects of all 48 cells."""
    return [
        (f"NC {nc} RF {rf} RS {rs} no. {n + 1}", generated(1000 * i + n, nc, rf, rs))
        for i, (nc, rf, rs) in enumerate((nc, rf, rs) for nc in COMPLEXITY for rf in FACTOR for rs in STRENGTH)
        for n in range(each)
    ]


def optima(path: Path) -> dict[tuple[int, int], int]:
    """Lengths known to be the shortest, by the two numbers of a project's name."""
    rows = re.findall(r"^\s*(\d+)\s+(\d+)\s+(\d+)\b", path.read_text("latin-1"), re.MULTILINE)
    if not rows:
        raise SystemExit(f"{path}: no rows of three numbers; expected parameter, instance, optimum.")
    return {(int(one), int(other)): int(length) for one, other, length in rows}


def read_all(paths: list[Path]) -> list[tuple[str, Project]]:
    """Projects of files, and of the .sm files of folders, in order of the numbers in their names."""
    files = [file for path in paths for file in (sorted(path.glob("*.sm"), key=number) if path.is_dir() else [path])]
    if gone := [str(path) for path in paths if not path.exists()]:
        raise SystemExit(f"{gone[0]}: not there.")
    if paths and not files:
        raise SystemExit(f"{paths[0]}: no .sm files there; unpack the set into that folder.")
    return [(file.name, read_project(file.read_text("latin-1"), file.name)) for file in files]


def number(path: Path | str) -> tuple[int, ...]:
    """The last two numbers of a file's name; 'j304_7.sm' and 'j30_4_7.sm' are both project 4, 7."""
    found = re.search(r"(?:j30_?)?(\d+)_(\d+)\.sm$", Path(path).name)
    return (int(found[1]), int(found[2])) if found else ()


def told_over(rows: list[tuple[str, Schedule, float]], known: dict[tuple[int, int], int]) -> tuple[str, bool | None]:
    """How far the worst lies over what is known, in words, and whether that is within the bar; None: not known."""
    best = {name: known.get(number(name)) or (found.length if found.proved else None) for name, found, _ in rows}  # type: ignore[call-overload]
    below = [name for name, found, _ in rows if best[name] and found.length < best[name]]
    if below:
        raise SystemExit(f"{below[0]}: ours is shorter than the optimum of the table; they do not belong together.")
    over = [found.length / best[name] - 1 for name, found, _ in rows if best[name]]
    left = sum(each is None for each in best.values())
    words = f"worst {max(over, default=0.0):.1%} over the optimum"
    if max(over, default=0.0) > OVER:
        return words, False
    return (f"{words} of {len(over)}; of {left} it is not known", None) if left else (words, True)


def main() -> None:
    """Print what was found."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("files", nargs="*", type=Path, help="folders of .sm files, or single files")
    parser.add_argument("--optima", type=Path, help="table of the optima of the published set")
    parser.add_argument("--each", type=int, default=2, help="projects of each of the 48 cells (at first 2)")
    parser.add_argument("--seconds", type=float, default=30.0, help="longest search of one project by the clock")
    parser.add_argument("--cpu", type=float, default=10.0, help="seconds of processor time within which it counts")
    parser.add_argument("--out", type=Path, help="write the projects there as .sm files")
    asked = parser.parse_args()
    known = optima(asked.optima) if asked.optima else {}
    posed = read_all(asked.files) or cells(asked.each)
    if asked.out:
        for n, (_, project) in enumerate(posed):
            (asked.out / f"own30_{n + 1}.sm").write_text(write_project(project))
    rows: list[tuple[str, Schedule, float]] = []
    for name, project in posed:
        began = time.process_time()
        limit = began + asked.cpu
        found = schedule(project, asked.seconds, tick=lambda _, limit=limit: time.process_time() < limit)
        spent = time.process_time() - began
        wrong = faults(project, found.starts)
        assert not wrong, (name, wrong)
        rows.append((name, found, spent))
        if not found.proved or spent > 2:
            print(f"{name}: {found.length}, at least {found.bound}, {'proved' if found.proved else 'NOT PROVED'}, "
                  f"{spent:.1f} s of processor time", flush=True)  # fmt: skip
    proved = [row for row in rows if row[1].proved and row[2] <= asked.cpu + 0.6]
    spent = sorted(row[2] for row in rows)
    share = len(proved) / len(rows)
    print(f"{len(rows)} projects: {share:.1%} proved optimal within {asked.cpu:g} s of "
          f"processor time; worst gap proved {max(row[1].gap for row in rows):.1%}; processor time: half of them "
          f"{spent[len(spent) // 2]:.2f} s, longest {spent[-1]:.1f} s; no faults by the checker.")  # fmt: skip
    words, within = told_over(rows, known)
    met = {True: "met", False: "NOT MET", None: "not known"}
    print(f"The bar: at least {SHARE:.0%} proved: {met[share >= SHARE]} ({share:.1%}); none more than {OVER:.0%} over "
          f"the known optimum: {met[within]} ({words}).")  # fmt: skip
    if not asked.files:
        print("These projects were generated; the bar is of the published set, which is not shipped.")


if __name__ == "__main__":
    main()

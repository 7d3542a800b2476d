"""A project in general: tasks that follow one another and share renewable resources, done in the shortest time.

This is the resource-constrained project scheduling problem as it is published with open test sets; the yard's own plan
has hours, people, jig and hull on top of it (`scrieve.workplan.model`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from scrieve.errors import BadPlan
from scrieve.workplan.search import Progress, Tick, search


@dataclass(frozen=True, slots=True)
class Task:
    """One task: whole units of time, what it takes of each resource while it lasts, and the tasks that follow it."""

    duration: int
    needs: tuple[int, ...] = ()
    after: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Project:
    """Tasks, named by their place in the row from 0, and how much there is of each resource.

    Raises
    ------
    BadPlan
        A need is more than there is, a task follows itself by a roundabout way, or a number cannot be.
    """

    tasks: tuple[Task, ...]
    capacities: tuple[int, ...] = ()

    def __post_init__(self) -> None:
        for n, task in enumerate(self.tasks, 1):
            if task.duration < 0 or any(need < 0 for need in task.needs):
                raise BadPlan(f"task {n}: a duration or a need is below zero; give 0 or more.")
            if len(task.needs) != len(self.capacities):
                raise BadPlan(f"task {n}: {len(task.needs)} needs; there are {len(self.capacities)} resources.")
            for r, (need, there) in enumerate(zip(task.needs, self.capacities, strict=True), 1):
                if need > there and task.duration:
                    raise BadPlan(f"task {n} needs {need} of resource {r}, of which there are {there}.")
            if strange := [after for after in task.after if not 0 <= after < len(self.tasks)]:
                raise BadPlan(f"task {n} is followed by task {strange[0] + 1}, which there is not.")
        self.order()

    def order(self) -> tuple[int, ...]:
        """Tasks so that each comes after those it follows.

        Raises
        ------
        BadPlan
            Tasks wait for one another in a circle.
        """
        waits = [0] * len(self.tasks)
        for task in self.tasks:
            for after in task.after:
                waits[after] += 1
        ready = [n for n, count in enumerate(waits) if not count]
        order: list[int] = []
        while ready:
            n = ready.pop(0)
            order.append(n)
            for after in self.tasks[n].after:
                waits[after] -= 1
                if not waits[after]:
                    ready.append(after)
        if len(order) < len(self.tasks):
            left = ", ".join(str(n + 1) for n in range(len(self.tasks)) if n not in order)
            raise BadPlan(f"tasks {left} wait for one another in a circle; take one of the precedences out.")
        return tuple(order)

    def earliest(self) -> tuple[int, ...]:
        """Earliest start of each task were there enough of everything (the critical path)."""
        starts = [0] * len(self.tasks)
        for n in self.order():
            for after in self.tasks[n].after:
                starts[after] = max(starts[after], starts[n] + self.tasks[n].duration)
        return tuple(starts)

    def least(self) -> int:
        """No schedule is shorter: the critical path, or the work on the fullest resource."""
        path = max((s + t.duration for s, t in zip(self.earliest(), self.tasks, strict=True)), default=0)
        work = [
            -(-sum(task.duration * task.needs[r] for task in self.tasks) // there)
            for r, there in enumerate(self.capacities)
            if there
        ]
        return max([path, *work])


@dataclass(frozen=True, slots=True)
class Schedule:
    """Starts of the tasks, the time they take in all, the least proved possible, and whether the two meet."""

    starts: tuple[int, ...]
    length: int
    bound: int
    proved: bool
    seconds: float

    @property
    def gap(self) -> float:
        """How far it may at most be above the shortest, as a share of the bound."""
        return (self.length - self.bound) / self.bound if self.bound else 0.0


def schedule(project: Project, seconds: float = 10.0, *, tick: Tick | None = None, seed: int = 1,
             workers: int | None = None) -> Schedule:  # fmt: skip
    """Find the shortest schedule of a project, or the best within the time given.

    Parameters
    ----------
    project : Project
    seconds : float
        Search for at most so long.
    tick : callable, optional
        Told of progress; returns False to stop with the best so far.
    seed : int
        Of the search.
    workers : int, optional
        Its threads.

    Raises
    ------
    BadPlan
        Stopped before any schedule was found.

    Examples
    --------
    >>> two = Project((Task(3, (1,)), Task(2, (1,)), Task(1, (0,), ())), (1,))
    >>> schedule(two).length
    5
    """
    from ortools.sat.python import cp_model

    if not project.tasks:
        return Schedule((), 0, 0, True, 0.0)
    early, first, least = project.earliest(), in_turn(project), project.least()
    longest = max(s + t.duration for s, t in zip(first, project.tasks, strict=True))
    if longest == least:
        return Schedule(first, longest, least, True, 0.0)
    late = _latest(project, longest)
    model = cp_model.CpModel()
    starts = [model.new_int_var(early[n], late[n], f"s{n}") for n in range(len(project.tasks))]
    spans = [model.new_fixed_size_interval_var(starts[n], t.duration, f"i{n}") for n, t in enumerate(project.tasks)]
    for n, task in enumerate(project.tasks):
        for after in task.after:
            model.add(starts[after] >= starts[n] + task.duration)
        model.add_hint(starts[n], first[n])
    for r, there in enumerate(project.capacities):
        using = [(spans[n], t.needs[r]) for n, t in enumerate(project.tasks) if t.needs[r] and t.duration]
        if sum(need for _, need in using) > there:
            model.add_cumulative([span for span, _ in using], [need for _, need in using], there)
    end = model.new_int_var(least, longest, "end")
    for n, task in enumerate(project.tasks):
        model.add(end >= starts[n] + task.duration)
    model.minimize(end)
    found = search(model, seconds, tick=tick, what="shortest schedule", seed=seed, workers=workers)
    if found.values is None:
        return Schedule(first, longest, least, False, found.seconds)
    values = tuple(found.values(start) for start in starts)
    length = max(s + t.duration for s, t in zip(values, project.tasks, strict=True))
    bound = length if found.proved else max(least, round(found.bound))
    return Schedule(values, length, bound, found.proved, found.seconds)


def in_turn(project: Project) -> tuple[int, ...]:
    """A schedule made at once: each task, that with the longest way to the end first, as early as it goes."""
    tail = [0] * len(project.tasks)
    for n in reversed(project.order()):
        tail[n] = project.tasks[n].duration + max((tail[after] for after in project.tasks[n].after), default=0)
    before: list[list[int]] = [[] for _ in project.tasks]
    for n, task in enumerate(project.tasks):
        for after in task.after:
            before[after].append(n)
    horizon = sum(task.duration for task in project.tasks) + 1
    used = [[0] * horizon for _ in project.capacities]
    starts: dict[int, int] = {}
    while len(starts) < len(project.tasks):
        ready = [n for n in range(len(project.tasks)) if n not in starts and all(b in starts for b in before[n])]
        n = max(ready, key=lambda one: (tail[one], -one))
        task = project.tasks[n]
        at = max((starts[b] + project.tasks[b].duration for b in before[n]), default=0)
        while any(
            used[r][t] + need > project.capacities[r]
            for r, need in enumerate(task.needs)
            if need
            for t in range(at, at + task.duration)
        ):
            at += 1
        starts[n] = at
        for r, need in enumerate(task.needs):
            for t in range(at, at + task.duration):
                used[r][t] += need
    return tuple(starts[n] for n in range(len(project.tasks)))


def _latest(project: Project, longest: int) -> list[int]:
    late = [longest - task.duration for task in project.tasks]
    for n in reversed(project.order()):
        for after in project.tasks[n].after:
            late[n] = min(late[n], late[after] - project.tasks[n].duration)
    return late


def faults(project: Project, starts: Sequence[int]) -> tuple[str, ...]:
    """Every way in which starts do not make a schedule of the project, looked at unit of time by unit of time."""
    said = []
    for n, (task, at) in enumerate(zip(project.tasks, starts, strict=True), 1):
        if at < 0:
            said.append(f"task {n} starts before 0")
        said += [
            f"task {after + 1} starts at {starts[after]}, before task {n} has ended"
            for after in task.after
            if starts[after] < at + task.duration
        ]
    end = max((s + t.duration for s, t in zip(starts, project.tasks, strict=True)), default=0)
    for now in range(end):
        on = [task for task, at in zip(project.tasks, starts, strict=True) if at <= now < at + task.duration]
        for r, there in enumerate(project.capacities):
            if (needed := sum(task.needs[r] for task in on)) > there:
                said.append(f"at {now}, {needed} of resource {r + 1} are needed; there are {there}")
    return tuple(said)


__all__ = ["Progress", "Project", "Schedule", "Task", "faults", "in_turn", "schedule"]

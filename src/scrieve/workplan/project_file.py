"""Projects in the text format in which the open test sets are published (.sm: one mode, renewable resources)."""

from __future__ import annotations

import re

from scrieve.errors import BadPlan
from scrieve.workplan.project import Project, Task

#: Resources that are used up, which the solver knows nothing of.
_OTHER = re.compile(r"\s*-?\s*(nonrenewable|doubly constrained)\s*:\s*(\d+)", re.IGNORECASE)
_HEADS = ("PRECEDENCE RELATIONS", "REQUESTS/DURATIONS", "RESOURCEAVAILABILITIES")


def read_project(text: str, name: str = "the file") -> Project:
    """Read one .sm file.

    Parameters
    ----------
    text : str
        Sections 'PRECEDENCE RELATIONS' (job, modes, number of successors, successors), 'REQUESTS/DURATIONS' (job,
        mode, duration, requests) and 'RESOURCEAVAILABILITIES'.
    name : str
        For the messages.

    Returns
    -------
    Project
        Its tasks in the file's order, the supersource and the sink among them.

    Raises
    ------
    BadPlan
        A section is missing, a line cannot be read, a job stands twice or has several modes, or resources are used up;
        the message names the line.
    """
    rows: dict[str, list[tuple[int, list[int]]]] = {head: [] for head in _HEADS}
    here = ""
    for number, line in enumerate(text.splitlines(), 1):
        found = next((head for head in _HEADS if line.strip().upper().startswith(head)), None)
        if found:
            here = found
        elif (other := _OTHER.match(line)) and int(other[2]):
            raise BadPlan(
                f"{name} line {number}: {other[2]} {other[1].lower()} resources; projects whose resources are all "
                "renewable are read."
            )
        elif line.startswith("*"):
            here = ""
        elif here and re.fullmatch(r"[\s\d]*\d[\s\d]*", line):
            rows[here].append((number, [int(word) for word in line.split()]))
        elif here and line.strip() and not re.match(r"\s*(jobnr|R\s+\d|N\s+\d|-+)", line):
            raise BadPlan(f"{name} line {number}: found {line.strip()!r}; expected whole numbers.")
    for head in _HEADS:
        if not rows[head]:
            raise BadPlan(f"{name}: no section {head!r} with figures; expected a project in the .sm text format.")
    capacities = tuple(rows["RESOURCEAVAILABILITIES"][0][1])
    after: dict[int, tuple[int, ...]] = {}
    for number, words in rows["PRECEDENCE RELATIONS"]:
        if len(words) < 3 or words[2] != len(words) - 3:
            raise BadPlan(f"{name} line {number}: found {words}; expected job, modes, number of successors and these.")
        if words[1] != 1:
            raise BadPlan(f"{name} line {number}: job {words[0]} has {words[1]} modes; projects of one mode are read.")
        if words[0] in after:
            raise BadPlan(f"{name} line {number}: job {words[0]} stands there twice; take one of the lines out.")
        after[words[0]] = tuple(job - 1 for job in words[3:])
    tasks: dict[int, Task] = {}
    for number, words in rows["REQUESTS/DURATIONS"]:
        if len(words) != 3 + len(capacities):
            raise BadPlan(
                f"{name} line {number}: found {words}; expected job, mode, duration, {len(capacities)} requests."
            )
        if words[0] in tasks:
            raise BadPlan(f"{name} line {number}: job {words[0]} stands there twice; take one of the lines out.")
        tasks[words[0]] = Task(words[2], tuple(words[3:]), after.get(words[0], ()))
    if sorted(tasks) != list(range(1, len(tasks) + 1)) or set(after) != set(tasks):
        raise BadPlan(f"{name}: its jobs are not numbered from 1 to {len(tasks)} in both sections alike.")
    return Project(tuple(tasks[job] for job in sorted(tasks)), capacities)


def write_project(project: Project) -> str:
    """Write a project in the same format, one mode for each job.

    Examples
    --------
    >>> one = Project((Task(0, (0,), (1,)), Task(4, (2,))), (3,))
    >>> read_project(write_project(one)) == one
    True
    """
    rule = "*" * 72
    count = len(project.capacities)
    names = "".join(f"{f'R {r}':>5}" for r in range(1, count + 1))
    lines = [rule, f"jobs (incl. supersource/sink ):  {len(project.tasks)}", "RESOURCES",
             f"  - renewable                 :  {count}   R", rule, "PRECEDENCE RELATIONS:",
             "jobnr.    #modes  #successors   successors"]  # fmt: skip
    for n, task in enumerate(project.tasks, 1):
        lines.append(f"{n:4}{1:9}{len(task.after):11}   " + "".join(f"{after + 1:5}" for after in task.after))
    lines += [rule, "REQUESTS/DURATIONS:", f"jobnr. mode duration{names}", "-" * 72]
    for n, task in enumerate(project.tasks, 1):
        lines.append(f"{n:4}{1:6}{task.duration:6}    " + "".join(f"{need:5}" for need in task.needs))
    lines += [rule, "RESOURCEAVAILABILITIES:", names, "".join(f"{there:5}" for there in project.capacities), rule]
    return "\n".join(lines) + "\n"

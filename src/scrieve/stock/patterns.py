"""Patterns: of all the boards ever laid, those that together hold every part at the least cost, by CP-SAT."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping

from scrieve.stock.placing import Laid, Rack
from scrieve.stock.search import Kinds, Layout

#: Costs are counted in so many steps of the dearest board.
STEPS = 100_000


def make_ready() -> None:
    """Load the solver, so that the time it takes is not taken at the end."""
    import ortools.sat.python.cp_model  # noqa: F401


def choose(
    rack: Rack,
    pool: Mapping[int, Mapping[Kinds, tuple[float, tuple[Laid, ...]]]],
    start: Layout,
    *,
    seed: int,
    effort: float = 0.5,
    seconds: float | None = None,
) -> Layout:
    """Return the best layout made of whole boards met so far; a kind laid too often is left off where it is over.

    Parameters
    ----------
    pool : mapping board -> kinds of parts -> (cost, parts laid)
    start : Layout
        Given to the solver to begin from.
    effort : float
        Deterministic time of the solver, so that runs are repeatable; about a second each on one core.
    seconds : float, optional
        The most it may take by the clock; cut short by that, a run cannot be repeated exactly.
    """
    from ortools.sat.python import cp_model

    demand = Counter(rack.kind(part) for part in range(len(rack.parts)))
    dearest = max((cost for ways in pool.values() for cost, _ in ways.values()), default=1.0) or 1.0
    model = cp_model.CpModel()
    held: dict[int, list[tuple[int, object]]] = defaultdict(list)
    uses = {}
    for board, ways in sorted(pool.items()):
        mine = []
        for kinds, (cost, laid) in sorted(ways.items()):
            use = model.new_bool_var("")
            uses[board, kinds] = (use, cost, laid)
            mine.append(use)
            for kind, count in kinds:
                held[kind].append((count, use))
        model.add_at_most_one(mine)
    missing = {kind: model.new_int_var(0, count, "") for kind, count in demand.items()}
    for kind, count in demand.items():
        model.add(sum(n * use for n, use in held[kind]) + missing[kind] >= count)  # type: ignore[operator, misc]
    smallest = min(part.area_mm2 for part in rack.parts)
    model.minimize(
        sum(round(cost / dearest * STEPS) * use for use, cost, _ in uses.values())
        + sum(round(rack.parts[kind].wanted_mm2 / smallest * 10 * STEPS) * short for kind, short in missing.items())
    )
    current = {
        (board, tuple(sorted(Counter(rack.kind(one.part) for one in laid).items())))
        for board, laid in start.boards.items()
    }
    for key, (use, _, _) in uses.items():
        model.add_hint(use, key in current)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.catch_sigint_signal = False  # Ctrl-C is for the program, which then stops the whole search
    solver.parameters.random_seed = seed % (2**31)
    solver.parameters.max_deterministic_time = effort
    if seconds is not None:
        solver.parameters.max_time_in_seconds = seconds
    if solver.solve(model) not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return start
    waiting: dict[int, list[int]] = defaultdict(list)
    for part in reversed(range(len(rack.parts))):
        waiting[rack.kind(part)].append(part)
    boards = {}
    for (board, _), (use, _, laid) in uses.items():
        if solver.value(use):
            ones = [named(one, waiting[rack.kind(one.part)].pop()) for one in laid if waiting[rack.kind(one.part)]]
            if ones:
                boards[board] = tuple(ones)
    return Layout(boards, frozenset(part for parts in waiting.values() for part in parts))


def named(one: Laid, part: int) -> Laid:
    """Return the same place taken by another part of the same kind."""
    return Laid(part, one.row, one.shift, one.across_mm, one.lower, one.upper, one.left_mm, one.right_mm, one.area_mm2)

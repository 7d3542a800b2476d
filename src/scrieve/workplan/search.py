"""One search by constraint programming: progress, the bound proved so far, and an end when asked."""

from __future__ import annotations

import math
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

#: Threads of a search, more than cores: each searches or bounds in its own way.
WORKERS = 8


@dataclass(frozen=True, slots=True)
class Progress:
    """How a search stands: what it is at, the best value so far (None: none yet), the least proved possible, seconds
    spent."""

    what: str
    best: float | None
    bound: float | None
    seconds: float

    @property
    def gap(self) -> float | None:
        """How far the best may at most be above the least possible, as a share of it; None before there is a best."""
        if self.best is None or self.bound is None:
            return None
        return max(self.best - self.bound, 0.0) / max(abs(self.best), 1e-9)


#: Told how a search stands; returns False to stop it with the best so far.
Tick = Callable[[Progress], bool]


@dataclass(frozen=True, slots=True)
class Found:
    """What a search ended with: `values` reads a variable (None where nothing was found); `proved` is 'no better is
    possible', `impossible` 'there is none at all'."""

    values: Callable[[Any], int] | None
    best: float | None
    bound: float
    proved: bool
    impossible: bool
    seconds: float


def search(
    model: Any,
    seconds: float,
    *,
    tick: Tick | None = None,
    what: str = "searching",
    seed: int = 1,
    workers: int | None = None,
    quick: bool = False,
) -> Found:
    """Search a CP-SAT model that minimises, for at most so many seconds.

    Parameters
    ----------
    model : ortools CpModel
        With its objective and hints.
    seconds : float
        At most so long.
    tick : callable, optional
        Told how it stands at every better solution and every half second.
    what : str
        What the search is at, for `tick`.
    seed : int
        Of the search.
    workers : int, optional
        Its threads; left out, `WORKERS`.
    quick : bool
        Begin to search sooner: a large model is simplified less beforehand.
    """
    from ortools.sat.python import cp_model  # a third of a second, spent only where a plan is made

    solver = cp_model.CpSolver()
    solver.parameters.num_workers = workers or WORKERS
    solver.parameters.max_time_in_seconds = max(seconds, 0.05)
    solver.parameters.random_seed = seed
    if quick:
        solver.parameters.cp_model_probing_level = 0
        solver.parameters.max_presolve_iterations = 1
        solver.parameters.symmetry_level = 0
    began = time.monotonic()
    state: dict[str, float | None] = {"best": None, "bound": None}
    over = threading.Event()

    class Better(cp_model.CpSolverSolutionCallback):
        def on_solution_callback(self) -> None:
            state["best"], state["bound"] = self.objective_value, self.best_objective_bound

    def bound(value: float) -> None:
        state["bound"] = value

    def watch() -> None:
        while not over.wait(0.1 if state["best"] is None else 0.25):
            now = Progress(what, state["best"], state["bound"], time.monotonic() - began)
            if tick is not None and not tick(now):
                solver.stop_search()

    solver.best_bound_callback = bound
    watcher = threading.Thread(target=watch, daemon=True, name="search")
    watcher.start()
    try:
        status = solver.solve(model, Better())
    finally:
        over.set()
        watcher.join()
    spent = time.monotonic() - began
    if status == cp_model.MODEL_INVALID:
        raise AssertionError(model.validate())
    found = status in (cp_model.OPTIMAL, cp_model.FEASIBLE)
    least = solver.best_objective_bound if found else -math.inf
    return Found(
        solver.value if found else None,
        solver.objective_value if found else None,
        least,
        status == cp_model.OPTIMAL,
        status == cp_model.INFEASIBLE,
        spent,
    )

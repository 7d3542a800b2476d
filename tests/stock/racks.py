"""Boards and planks to try the laying on, by chance."""

import numpy as np

from scrieve.stock import Board, Defect, Edges, Part, Rules, between_edges

DEFAULTS = Rules()


def plank(name, length, width, crown, *, rules=DEFAULTS, thickness=25.0, **more):
    t = np.linspace(0, 1, 21)
    middle = 4 * crown * t * (1 - t)
    outline, run = between_edges(
        np.column_stack([length * t, middle - width / 2]), np.column_stack([length * t, middle + width / 2])
    )
    return Part(name, outline, thickness, run=run, rules=rules, **more)


def board_of(seed, name, *, length=2600.0, under=False):
    rng = np.random.default_rng(seed)
    x = np.linspace(0, length, 6)
    low, high = -200 + rng.uniform(-40, 40, 6), 200 + rng.uniform(-40, 40, 6)
    knots = tuple(
        Defect("knot", ((rng.uniform(100, length - 100), rng.uniform(-150, 150)),), rng.uniform(10, 45),
               sound=bool(rng.random() < 0.5), face=str(rng.choice(["top", "under", "through"])))  # type: ignore[arg-type]
        for _ in range(int(rng.integers(0, 4)))
    )  # fmt: skip
    shake = Defect("shake", ((length - 250, rng.uniform(-60, 60)), (length, rng.uniform(-60, 60))), 6.0)
    narrower = Edges(tuple(x), tuple(low + rng.uniform(0, 30)), tuple(high - rng.uniform(0, 30))) if under else None
    heart = Edges((0.0, length), (-170.0, -165.0), (300.0, 300.0))
    grain = ((0.0, 0.0), (length / 2, rng.uniform(-40, 40)), (length, 0.0)) if rng.random() < 0.5 else ()
    return Board(name, length, 32.0, Edges(tuple(x), tuple(low), tuple(high)), under=narrower, heart=heart,
                 defects=(*knots, shake), grain=grain)  # fmt: skip

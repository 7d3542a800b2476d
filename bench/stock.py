"""Laying out: 40 curved planks, against a general-purpose irregular-nesting library where both can be posed alike.

    python bench/stock.py [--reference SECONDS] [--seconds SECONDS]

On a machine that others use too, the processor time of both sides is what counts, and is told: ours is stopped by it;
the library stops by the clock alone, so that it is given more of that.

Posed alike: square-edged clear stock of one length, 6500 mm, boards side by side without end: a strip of fixed height
6500 with the planks standing across it, of which as little as possible is to be used. The library (spyrrow) knows no
more than that: no board ends, no wane, no knots. Both keep 4 mm between planks, turn each end for end and by -1, -0.5,
0, 0.5 or 1 degree, and do not turn it over. Yield is the planks' area in that of the strip used.

Then 40 planks on 25 wany boards with knots, which the library cannot be asked.
"""

from __future__ import annotations

import argparse
import time

import numpy as np
from shapely import Polygon

from scrieve.stock import Board, Defect, Edges, Part, Rules, Saw, between_edges, lay_parts
from scrieve.stock.poses import laid
from scrieve.stock.strip import least_strip_width

LENGTH = 6500.0
ANGLES_DEG = (-1.0, -0.5, 0.0, 0.5, 1.0)
GAP = 4.0


def planks(seed: int = 7, count: int = 40, **more: object) -> list[Part]:
    """Curved planks of 2.4 to 6 m, 130 to 200 wide, bowed by up to 120 on 6 m either way, some tapered."""
    rng = np.random.default_rng(seed)
    found = []
    for number in range(count):
        length, width = rng.uniform(2400, 6000), rng.uniform(130, 200)
        crown = rng.uniform(10, 120) * (length / 6000) ** 2 * rng.choice([-1, 1])
        taper = rng.uniform(0.7, 1.0)
        t = np.linspace(0, 1, 25)
        middle, half = 4 * crown * t * (1 - t), width / 2 * (1 - (1 - taper) * (2 * t - 1) ** 2)
        edges = np.column_stack([length * t, middle - half]), np.column_stack([length * t, middle + half])
        outline, run = between_edges(*edges)
        found.append(Part(f"plank {number + 1}", outline, 30, run=run, **more))  # type: ignore[arg-type]
    return found


def wany(seed: int = 11, count: int = 25) -> list[Board]:
    """Wany boards of 4.5 to 7 m, 380 to 560 wide, with one to four knots and the heart's edge on some."""
    rng = np.random.default_rng(seed)
    boards = []
    for number in range(count):
        length, width = rng.uniform(4500, 7000), rng.uniform(380, 560)
        x = np.linspace(0, length, 12)
        low, high = (side * width / 2 + 5 * rng.normal(0, 1, 12).cumsum() for side in (-1, 1))
        knots = tuple(
            Defect("knot", ((rng.uniform(200, length - 200), rng.uniform(-0.4, 0.4) * width),), rng.uniform(12, 50))
            for _ in range(rng.integers(1, 5))
        )
        boards.append(Board(f"board {number + 1}", length, 36, Edges(tuple(x), tuple(low), tuple(high)), defects=knots))
    return boards


def proved(shapes: list[Polygon], gap: float) -> bool:
    """Whether all shapes stand apart."""
    return all(a.distance(b) >= gap - 1e-2 for at, a in enumerate(shapes) for b in shapes[:at])


def reference(parts: list[Part], seconds: int, workers: int) -> float:
    """Width of strip the library uses."""
    import spyrrow

    turns = sorted(half + angle for half in (0.0, 180.0) for angle in ANGLES_DEG)
    # Its strip is of fixed height (y) and free length (x): the planks are stood up.
    items = [spyrrow.Item(part.name, [(-y, x) for x, y in part.outline], 1, turns) for part in parts]
    config = spyrrow.StripPackingConfig(
        early_termination=False, min_items_separation=GAP, total_computation_time=seconds, num_workers=workers, seed=1
    )
    return float(spyrrow.StripPackingInstance("planks", LENGTH, items).solve(config).width)


def _took(began: float, spent: float) -> str:
    return f"{time.process_time() - spent:.0f} s of processor time in {time.monotonic() - began:.0f} s"


def main() -> None:
    """Run both."""
    ask = argparse.ArgumentParser()
    ask.add_argument("--reference", type=int, default=0, help="seconds given to the library; 0 leaves it out")
    ask.add_argument("--workers", type=int, default=2)
    ask.add_argument("--seconds", type=float, default=60.0)
    ask.add_argument("--seed", type=int, default=1)
    asked = ask.parse_args()
    free = Rules(grain_limit_rad=None, edge_margin_mm=0.0)
    parts = planks(rules=free, turn_over=False)
    area = sum(part.area_mm2 for part in parts)
    ours_used = 0.0
    if asked.seconds > 0:
        began, spent = time.monotonic(), time.process_time()
        ours = least_strip_width(parts, LENGTH, saw=Saw(GAP, 0.0), seed=asked.seed, rounds=None, seconds=asked.seconds,
                                 angles_rad=tuple(np.radians(ANGLES_DEG)), clock=time.process_time)  # fmt: skip
        ours_used = ours.width_mm
        shapes = [Polygon(laid(parts[one.part].outline, one.lie, one.x_mm, one.y_mm)) for one in ours.places]
        inside = all(s.bounds[0] >= 0 and s.bounds[2] <= LENGTH and s.bounds[1] >= 0 for s in shapes)
        print(f"strip, ours: {ours.width_mm:.0f} mm, yield {area / LENGTH / ours.width_mm:.4f}, {ours.rounds} rounds, "
              f"{_took(began, spent)}, proved {proved(shapes, GAP) and inside}", flush=True)  # fmt: skip
        began, spent = time.monotonic(), time.process_time()
        boards = wany()
        laying = lay_parts(boards, planks(), seed=asked.seed, rounds=100_000, seconds=asked.seconds)
        used = {one.board for one in laying.placements}
        got = sum(laying.part(one.part).area_mm2 for one in laying.placements)
        share = got / sum(laying.board(name).area_mm2 for name in used)
        print(f"wany boards: {len(laying.placements)} of {len(laying.parts)} planks on {len(used)} of {len(boards)}")
        print(f"  {share:.3f} of the boards cut into, {laying.rounds} rounds, {_took(began, spent)}", flush=True)
    if asked.reference:
        began, spent = time.monotonic(), time.process_time()
        width = reference(parts, asked.reference, asked.workers)
        print(f"strip, library: {width:.0f} mm, yield {area / LENGTH / width:.4f}, {_took(began, spent)}")
        if ours_used:
            print(f"our yield / the library's: {width / ours_used:.4f} (the bar: 0.97)")


if __name__ == "__main__":
    main()

"""Orders of gluing: what must come first, and the cheapest way through all frames when each change has a cost."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

from scrieve.errors import BadJig
from scrieve.frames.parts import Array

#: Sweeps of the local search.
_SWEEPS = 60


def check_order(labels: Sequence[str], after: Sequence[Sequence[str]]) -> tuple[list[int], list[set[int]]]:
    """The order nearest to the one given that keeps precedence, and for each frame those that come before it.

    Raises
    ------
    BadJig
        A label stands twice, a frame named is not in the set, or precedence goes in a circle.

    Examples
    --------
    >>> check_order(["14", "15", "16"], [["16"], [], []])[0]
    [1, 2, 0]
    """
    place: dict[str, int] = {}
    for i, label in enumerate(labels):
        if label in place:
            raise BadJig(f"frame {label} stands twice in the set; name each frame once.")
        place[label] = i
    before: list[set[int]] = []
    for label, names in zip(labels, after, strict=True):
        if strange := [name for name in names if name not in place]:
            raise BadJig(f"frame {label} is to come after {strange[0]}, which is not in the set; add it or let it go.")
        before.append({place[name] for name in names})
    order: list[int] = []
    left = list(range(len(labels)))
    while left:
        ready = next((i for i in left if before[i] <= set(order)), None)
        if ready is None:
            names_left = ", ".join(labels[i] for i in left)
            raise BadJig(f"frames {names_left} wait for one another; take one of the precedences out.")
        order.append(ready)
        left.remove(ready)
    return order, before


def legal(order: Sequence[int], before: Sequence[set[int]]) -> bool:
    """Whether every frame comes after those it waits for."""
    seen: set[int] = set()
    for i in order:
        if not before[i] <= seen:
            return False
        seen.add(i)
    return True


def least_path(cost: Array, first: Array, before: Sequence[set[int]]) -> tuple[float, list[int]]:
    """The cheapest order of n frames, `cost` (n, n) from one to the next, `first` (n,) to begin with.

    Exact, by dynamic programming over sets (Held & Karp 1962); for a dozen frames or so.

    Examples
    --------
    >>> import numpy as np
    >>> cost = np.array([[0.0, 9, 1], [2, 0, 9], [9, 1, 0]])
    >>> least_path(cost, np.array([1.0, 1, 1]), [set(), set(), set()])
    (3.0, [0, 2, 1])
    """
    n = len(first)
    best: dict[tuple[int, int], tuple[float, int]] = {}
    needs = [sum(1 << j for j in mine) for mine in before]
    for i in range(n):
        if not needs[i]:
            best[1 << i, i] = (float(first[i]), -1)
    for size in range(2, n + 1):
        for chosen in itertools.combinations(range(n), size):
            mask = sum(1 << i for i in chosen)
            for i in chosen:
                rest = mask ^ (1 << i)
                if needs[i] & ~rest:
                    continue
                ways = [(best[rest, j][0] + float(cost[j, i]), j) for j in chosen if j != i and (rest, j) in best]
                if ways:
                    best[mask, i] = min(ways)
    full = (1 << n) - 1
    total, last = min((best[full, i][0], i) for i in range(n) if (full, i) in best)
    order, mask = [], full
    while last >= 0:
        order.append(last)
        mask, last = mask ^ (1 << last), best[mask, last][1]
    return total, order[::-1]


def shortest(cost: Array, first: Array, before: Sequence[set[int]], start: Sequence[int]) -> list[int]:
    """A cheap order of many frames: from `start`, runs of up to three moved or turned about while that helps.

    Examples
    --------
    >>> import numpy as np
    >>> cost = np.abs(np.subtract.outer(np.arange(5.0), np.arange(5.0)))
    >>> shortest(cost, np.zeros(5), [set()] * 5, [0, 3, 1, 2, 4])
    [0, 1, 2, 3, 4]
    """

    def total(order: Sequence[int]) -> float:
        return float(first[order[0]] + cost[order[:-1], order[1:]].sum())

    order, n = list(start), len(start)
    now = total(order)
    for _ in range(_SWEEPS):
        best, chosen = now - 1e-9, None
        for length in range(1, min(4, n)):
            for i in range(n - length + 1):
                run, rest = order[i : i + length], order[:i] + order[i + length :]
                for j in range(len(rest) + 1):
                    for piece in (run, run[::-1]):
                        trial = rest[:j] + piece + rest[j:]
                        value = total(trial)
                        if value < best and legal(trial, before):
                            best, chosen = value, trial
        for i, j in itertools.combinations(range(n + 1), 2):
            trial = order[:i] + order[i:j][::-1] + order[j:]
            value = total(trial)
            if value < best and legal(trial, before):
                best, chosen = value, trial
        if chosen is None:
            return order
        order, now = chosen, best
    return order

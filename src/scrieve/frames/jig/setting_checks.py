"""Checks at the bench: a few measurements with tape and line that show any one bracket set wrongly."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from scrieve.frames.parts import Array, BenchCheck, Jig

#: An error of a bracket must show on some check by more than half of itself: 2 mm as 1 mm on the tape.
LEAST_SHARE = 0.52
#: Error by which it is tried how much each check shows [mm].
_TRIED_MM = 2.0

Kind = Literal["chord", "sagitta", "diagonal", "tape", "travel"]


@dataclass(frozen=True, slots=True)
class SettingCheck:
    """One measurement that proves the setting, and what it would show of a wrong bracket.

    `brackets` are those measured between (of a sagitta: both ends of the line, then the one measured at); `length_mm`
    is what the tape should show, `how` on which side of the line a sagitta lies. `shows` gives for each bracket of the
    jig, from the heel, the change of the reading for an error of 2 mm of its travel, as a share of it: the lesser of
    out and in.
    """

    kind: Kind
    name: str
    how: str
    brackets: tuple[int, ...]
    length_mm: float
    shows: tuple[float, ...]


def setting_checks(jig: Jig) -> tuple[SettingCheck, ...]:
    """Chord and sagitta at three places, diagonals between the end brackets, and a tape wherever these are blind.

    Between them every bracket is seen: an error of more than 2 mm in the travel of any one changes some reading by
    more than 1 mm.

    References
    ----------
    .. [1] docs/jig.md, "Checks at the bench".
    """
    faces = np.array([(each.along_mm, each.travel_mm) for each in jig.brackets])
    checks = [_check(*plan, jig, faces) for plan in (*_thirds(len(faces)), *_diagonals(len(faces)))]
    for k in range(len(faces)):
        if max(check.shows[k] for check in checks) > LEAST_SHARE:
            continue
        tapes = [_check("tape", f"Tape to bracket {k + 1}", (j, k), jig, faces) for j in range(len(faces)) if j != k]
        best = max(tapes, key=lambda check: check.shows[k])
        if best.shows[k] <= LEAST_SHARE:
            best = _check("travel", f"Travel of bracket {k + 1}", (k,), jig, faces)
        checks.append(best)
    return tuple(checks)


def seen(checks: Sequence[SettingCheck]) -> Array:
    """(k,) the most that any check shows of an error of each bracket, as a share of it."""
    return np.asarray(np.max([check.shows for check in checks], axis=0))


def bench_rows(jig: Jig) -> tuple[BenchCheck, ...]:
    """The same checks as rows for the bench sheet: a chord with each sagitta on it, then the single lengths."""
    rows, chord = [], 0.0
    for check in setting_checks(jig):
        if check.kind == "chord":
            chord = check.length_mm
        if check.kind == "sagitta":
            rows.append(BenchCheck(check.name, check.how, chord, check.length_mm))
        else:
            rows.append(BenchCheck(check.name, check.how, check.length_mm))
    return tuple(rows)


def _thirds(count: int) -> list[tuple[Kind, str, tuple[int, ...]]]:
    """Three lines over the brackets, end to end, each with a sagitta at every bracket between its ends."""
    places = sorted({round(share * (count - 1)) for share in ((0, 1 / 3, 2 / 3, 1) if count > 5 else (0, 1 / 2, 1))})
    if count < 5:
        places = [0, count - 1]
    parts = {3: ("heel third", "middle third", "head third"), 2: ("heel half", "head half"), 1: ("whole",)}
    found: list[tuple[Kind, str, tuple[int, ...]]] = []
    for name, (first, last) in zip(parts[len(places) - 1], itertools.pairwise(places), strict=True):
        found.append(("chord", f"Chord of the {name}", (first, last)))
        found += [("sagitta", f"Sagitta of the {name}", (first, last, k)) for k in range(first + 1, last)]
    return found


def _diagonals(count: int) -> list[tuple[Kind, str, tuple[int, ...]]]:
    return [
        ("tape", "Between the end brackets", (0, count - 1)),
        ("diagonal", "Diagonal", (0, count - 1)),
        ("diagonal", "Diagonal", (count - 1, 0)),
    ]


def _check(kind: Kind, name: str, which: tuple[int, ...], jig: Jig, faces: Array) -> SettingCheck:
    read = _reading(kind, which)
    length = read(faces)
    shows = []
    for k in range(len(faces)):
        moved = []
        for error in (_TRIED_MM, -_TRIED_MM):
            wrong = faces.copy()
            wrong[k, 1] += error
            moved.append(abs(read(wrong) - length) / _TRIED_MM)
        shows.append(min(moved))
    numbers = tuple(jig.brackets[k].number for k in which)
    run = faces[which[-1 if kind != "sagitta" else 1], 0] - faces[which[0], 0]
    side = "out" if length * run >= 0 else "in"  # of a sagitta: its face lies to the left of the line
    return SettingCheck(kind, name, _how(kind, numbers, side), numbers, abs(length), tuple(shows))


def _reading(kind: Kind, which: tuple[int, ...]) -> Callable[[Array], float]:
    def across(faces: Array) -> float:
        first, last, at = (faces[k] for k in which)
        way = last - first
        return float((way[0] * (at - first)[1] - way[1] * (at - first)[0]) / math.hypot(*way))

    def apart(faces: Array) -> float:
        return math.hypot(*(faces[which[1]] - faces[which[0]]))

    def from_datum(faces: Array) -> float:
        return math.hypot(faces[which[1], 0] - faces[which[0], 0], faces[which[1], 1])

    if kind == "sagitta":
        return across
    if kind == "diagonal":
        return from_datum
    if kind == "travel":
        return lambda faces: float(faces[which[0], 1])
    return apart


def _how(kind: Kind, numbers: tuple[int, ...], side: str) -> str:
    if kind == "sagitta":
        return (
            f"line over the tops of brackets {numbers[0]} and {numbers[1]}; square {side} from it to face {numbers[2]}"
        )
    if kind == "diagonal":
        return f"datum line at bracket {numbers[0]} to the face of bracket {numbers[1]}"
    if kind == "travel":
        return f"datum line to the face of bracket {numbers[0]}, on another rule"
    return f"middle of face {numbers[0]} to middle of face {numbers[1]}"

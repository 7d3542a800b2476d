"""A whole table of marks judged before it is stored, and what is said of any judged mark, in words."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

import numpy as np

from scrieve.boat import Boat
from scrieve.errors import CannotFair
from scrieve.fairing.hull import Tick, fair
from scrieve.fairing.judging import FAR_SD, Judged, Line, Retold, State, guesses_of, judge, reached
from scrieve.fairing.result import FairHull, MarkOff
from scrieve.takeoff.marks import Mark
from scrieve.wording import small, tell


def judge_table(
    typed: Sequence[Mark],
    standing: Sequence[Mark],
    boat: Boat,
    hull: FairHull | None,
    retold: Retold | None = None,
    *,
    answers: Mapping[int, str] | None = None,
    tick: Tick | None = None,
    why_alone: Callable[[str], None] | None = None,
) -> list[Judged]:
    """Judge a table of marks before it is stored, in the order given.

    Parameters
    ----------
    typed : sequence of Mark
        Marks of any number of frames, their `line` the row of the table.
    standing, boat, hull, retold
        As `judge` takes them.
    answers, tick
        Of the standing marks, and for progress, as `fair` takes them.
    why_alone : callable, optional
        Told why no hull can be faired with the table, where that is so and frames are judged by their own marks.

    Returns
    -------
    list of Judged
        By the hull so far where it reaches the mark's station. Marks that it does not reach are judged by the hull that
        is faired with them, `by` 'table', as the fairing itself would doubt them; where there are too few for that, by
        their frame alone, as `judge` does.
    """
    stations = hull.stations if hull else {}
    if all(reached(hull, stations.get(mark.frame, mark.station_mm)) for mark in typed):
        return judge(typed, standing, boat, hull, retold)
    numbered = [replace(mark, number=-1 - i) for i, mark in enumerate(typed)]
    try:
        whole = fair([*standing, *numbered], boat, answers=answers, tick=tick)
    except CannotFair as error:
        if why_alone is not None:
            why_alone(str(error))
        return judge(typed, standing, boat, hull, retold)
    judged = judge(typed, standing, boat, hull, retold, alone=False)
    offs = {off.number: off for off in whole.offs}
    lines: dict[float, Line] = {}
    return [
        one if one.by == "hull" else _by_table(mark, one, offs[mark.number], whole, lines, retold)
        for mark, one in zip(numbered, judged, strict=True)
    ]


def _by_table(
    mark: Mark, was: Judged, off: MarkOff, hull: FairHull, lines: dict[float, Line], retold: Retold | None
) -> Judged:
    state: State = "slip" if off.suspect else "far" if off.out_by_sd > FAR_SD or was.doubts else "good"
    own = float(np.sqrt(np.trace(mark.covariance_mm2(hull.boat.sigma_mm)) / 2)) * hull.fit.error_scale
    sd = float(np.hypot(own, off.line_sd_mm))
    said: tuple[str, ...] = ()
    if state == "slip":
        x = hull.stations[mark.frame]
        line = lines.get(x) or lines.setdefault(x, Line(hull, x))
        point = np.array([mark.half_breadth_mm, mark.height_mm])
        pinned = mark.kind in ("heel", "head")
        where = line.at(np.array([line.foot(point, mark.kind)])) if pinned else line.points
        said = guesses_of(mark, point, where, sd, retold)
    return Judged(
        mark.line,
        state,
        "table",
        off.residual_mm,
        off.along_mm,
        sd,
        own,
        off.line_sd_mm,
        off.out_by_sd,
        said,
        was.doubts,
    )


def words_of(one: Judged) -> str:
    """Say how a mark lies; `in_units` of `scrieve.wording` gives it in the builder's units."""
    off, expected = small(abs(one.off_mm)), small(one.sd_mm)
    parts = []
    if one.by in ("hull", "table"):
        beyond = abs(one.beyond_mm) > 2 * max(one.sd_mm, 1e-9)
        along = tell("; {beyond} along it from where the line says", beyond=small(abs(one.beyond_mm)))
        parts.append(
            tell(
                "{off} {way} the fair line, ± {expected} expected{along}.",
                off=off,
                way="outside" if one.off_mm > 0 else "inside",
                expected=expected,
                along=along if beyond else "",
            )
        )
    elif one.by == "marks" and one.state == "slip":
        parts.append(tell("{off} off what the frame's other marks say, ± {e} expected.", off=off, e=expected))
    elif one.by == "marks":
        parts.append("It goes with the frame's other marks.")
    elif not one.doubts:
        parts.append("No hull reaches this frame yet, and fewer than six of its marks are there to judge by.")
    parts += [_capital(guess) for guess in one.guesses]
    parts += [_capital(_without_name(text)) for text in one.doubts]
    if one.state == "slip":
        parts.append("Measure it again before you go on.")
    names = [f"part{i}" for i in range(len(parts))]
    return tell(" ".join(f"{{{name}}}" for name in names), **dict(zip(names, parts, strict=True)))


def _without_name(text: str) -> str:
    """Leave out whose doubt it is: it stands beside the row."""
    return re.sub(r"^frame .*?(?:, .*?)?: (?=\S)", "", re.sub(r" ?\((?:line|mark) -?\d+\)", "", text), count=1)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]

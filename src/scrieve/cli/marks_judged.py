"""Rows of a file of marks that are likely slips: told with what may have been meant, and answered before storing."""

from __future__ import annotations

import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import click
from sqlalchemy import Engine

from scrieve.cli.common import progress, say_all
from scrieve.errors import BadMarks, CannotFair
from scrieve.takeoff.doubt import mark_name
from scrieve.takeoff.marks import Mark
from scrieve.takeoff.sending import Sending
from scrieve.takeoff.tables import Given

#: What may be answered to a row.
ANSWERS = ("store", "keep", "leave")


@dataclass(frozen=True, slots=True)
class LikelySlip:
    """A row that is likely a slip: its line, and what is said of it."""

    line: int
    text: str


def answers_to_rows(given: Sequence[str]) -> dict[int, str]:
    """Read answers as typed after --row.

    Raises
    ------
    BadMarks
        One is not written as ROW=store, ROW=keep or ROW=leave.
    """
    found = {}
    for one in given:
        row, parted, what = one.partition("=")
        if not (parted and row.strip().isdecimal() and what.strip() in ANSWERS):
            raise BadMarks(f"--row {one!r}: write the row, =, and store, keep or leave: --row 31=store.")
        found[int(row)] = what.strip()
    return found


def likely_slips(
    engine: Engine, reading: Sending, data: Given, name: str, there: Sequence[Mark], units: str | None
) -> list[LikelySlip]:
    """Judge the marks of a file by the fair line so far; return those that are likely slips."""
    from scrieve.fairing.judging_sent import judge_table, words_of
    from scrieve.store.kept import kept
    from scrieve.takeoff.retold import Retold
    from scrieve.wording import in_units

    work, tick = kept(engine), progress()
    boat = work.boat
    try:
        hull = work.hull(tick) if work.marks else None
    except CannotFair:
        hull = None
    stations = {mark.frame: mark.station_mm for mark in there}
    retold = Retold(data, name, reading.way, units=units or boat.units, known=stations, sigma_mm=boat.sigma_mm)
    why: list[str] = []
    judged = judge_table(
        reading.marks, work.marks, boat, hull, retold, answers=work.answers, tick=tick, why_alone=why.append
    )
    if any(one.state == "slip" for one in judged):
        say_all(f"each frame is judged by its own marks alone, for no hull can be faired: {text}" for text in why)
    return [
        LikelySlip(one.line, f"{mark_name(mark, boat.units)}: {in_units(words_of(one), boat.units)}")
        for mark, one in zip(reading.marks, judged, strict=True)
        if one.state == "slip"
    ]


def settled(
    reading: Sending, found: Sequence[LikelySlip], given: Mapping[int, str], slips: str, name: str
) -> tuple[Sending, frozenset[int], int]:
    """Settle each likely slip by its own answer, by that for all, or by asking.

    Returns
    -------
    The sending without the rows left out, the rows whose marks are kept, and how many were left out.

    Raises
    ------
    BadMarks
        A row is not answered and nobody can be asked; the message lists all such.
    """
    said = {one.line: given.get(one.line, slips) for one in found}
    if open_ones := [one for one in found if said[one.line] == "ask"]:
        if not sys.stdin.isatty():
            which = f"1 row of {name} is likely a slip"
            if len(open_ones) > 1:
                which = f"{len(open_ones)} rows of {name} are likely slips"
            raise BadMarks(
                f"{which}, so nothing was stored. Measure again and put right, or answer each with --row "
                f"{open_ones[0].line}=store, keep or leave; or all with --slips.",
                [f"{name}, {one.text}" for one in open_ones],
            )
        for one in open_ones:
            click.echo(f"{name}, {one.text}", err=True)
            said[one.line] = click.prompt("  store it, keep it whatever the others say, or leave it out",
                                          type=click.Choice(ANSWERS), err=True)  # fmt: skip
    marks = tuple(mark for mark in reading.marks if said.get(mark.line) != "leave")
    keep = frozenset(line for line, what in said.items() if what == "keep")
    return replace(reading, marks=marks), keep, len(reading.marks) - len(marks)

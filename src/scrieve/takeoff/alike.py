"""Alike: remarks on many rows of a file that say the same of each, told a few times over and then counted."""

from __future__ import annotations

import itertools
import re
from collections.abc import Sequence

#: So many remarks of one kind are told one by one; of more, this many, and then in which lines the others stand.
_MOST, _SHOWN = 12, 3
_LINES = re.compile(r"\bline ((?:\d+(?:, )?)+)")
_VARYING = re.compile(r'"[^"]*"|\'[^\']*\'|\bmark \S+|\bnail \S+|\bframe \S+|\d+(?:[.,]\d+)*')
_COLUMN = re.compile(r" line \d+, (\w+): found ")
#: Ranges of lines told at the most.
_MOST_RANGES = 40


def told_alike(remarks: Sequence[str]) -> tuple[str, ...]:
    """Shorten remarks on a file's rows where more than twelve say the same of theirs.

    Parameters
    ----------
    remarks : sequence of str
        Each with the line that it is about, as `marks.csv line 31, height: found "x"; expected ...`.

    Returns
    -------
    tuple of str
        In the order given. Remarks are of one kind where they differ only in numbers, in what was found, and in whose
        mark, nail or frame it is. Of a kind of more than twelve the first three are told, and then how many more there
        are and in which lines, so that none is lost.

    Examples
    --------
    >>> told_alike([f'a.csv line {n}, height: found "{n}"; expected mm.' for n in range(2, 30)])[3]
    'a.csv: 25 more like these of height, in the lines 5 to 29.'
    """
    kinds: dict[str, list[int]] = {}
    for place, text in enumerate(remarks):
        kinds.setdefault(_VARYING.sub("#", _LINES.sub("line #", text)), []).append(place)
    told = dict(enumerate(remarks))
    for places in kinds.values():
        lines = [_lines(remarks[place]) for place in places]
        if len(places) <= _MOST or not all(lines):
            continue
        rest = places[_SHOWN:]
        file = remarks[rest[0]].partition(" line ")[0]
        where = _ranges(itertools.chain(*lines[_SHOWN:]))
        if cell := _COLUMN.search(remarks[rest[0]]):
            told[rest[0]] = f"{file}: {len(rest)} more like these of {cell[1]}, in the lines {where}."
            if "add a unit" in remarks[rest[0]]:
                told[rest[0]] += f" Where the whole column is in mm, call it {cell[1]}_mm."
        else:
            told[rest[0]] = f"{file}: {len(rest)} more like these, in the lines {where}."
        for place in rest[1:]:
            del told[place]
    return tuple(told.values())


def _lines(text: str) -> list[int]:
    found = _LINES.search(text)
    return [int(number) for number in re.findall(r"\d+", found[1])] if found else []


def _ranges(lines: itertools.chain[int]) -> str:
    """Write lines as ranges: '5 to 29, 31'."""
    found: list[list[int]] = []
    for line in sorted(set(lines)):
        if found and line == found[-1][1] + 1:
            found[-1][1] = line
        else:
            found.append([line, line])
    said = [str(a) if a == b else f"{a} to {b}" for a, b in found]
    return ", ".join(said[:_MOST_RANGES]) + (", …" if len(said) > _MOST_RANGES else "")

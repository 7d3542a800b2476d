"""Fairing: from marks that are a little wrong to the fair batten and the fair hull, with a ± on every line."""

from scrieve.fairing.batten import FREE, Batten, End, Reversal, lay_batten
from scrieve.fairing.batten_strut import SprungBatten, cantilever, strut
from scrieve.fairing.batten_suspects import Suspect, find_suspects
from scrieve.fairing.bevel_board import compare_bevels
from scrieve.fairing.dents import Dent, dents
from scrieve.fairing.fairness import Fairness, fairness
from scrieve.fairing.hull import fair, moved
from scrieve.fairing.lines_plan import (
    HullLine,
    Plane,
    default_diagonals,
    diagonal,
    diagonal_plane,
    level_line,
    line_in,
    upright_line,
)
from scrieve.fairing.next_mark import NextMark, hardly_checked, next_marks
from scrieve.fairing.result import FairHull, MarkOff
from scrieve.fairing.section import Section
from scrieve.fairing.sides import Sides, sides

__all__ = [
    "FREE",
    "Batten",
    "Dent",
    "End",
    "FairHull",
    "Fairness",
    "HullLine",
    "MarkOff",
    "NextMark",
    "Plane",
    "Reversal",
    "Section",
    "Sides",
    "SprungBatten",
    "Suspect",
    "cantilever",
    "compare_bevels",
    "default_diagonals",
    "dents",
    "diagonal",
    "diagonal_plane",
    "fair",
    "fairness",
    "find_suspects",
    "hardly_checked",
    "lay_batten",
    "level_line",
    "line_in",
    "moved",
    "next_marks",
    "sides",
    "strut",
    "upright_line",
]

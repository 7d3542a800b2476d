"""Stock: boards with their defects and grain, parts laid on them, laminations ripped from them, what to order."""

from scrieve.errors import BadBoard
from scrieve.stock.board import Board, Defect, Edges, from_outline, rectangular
from scrieve.stock.check import Breach, breaches
from scrieve.stock.laying import Keep, Laying, Placement, Progress, lay_parts
from scrieve.stock.parts import Part, Rules, between_edges, parts_of_plank
from scrieve.stock.poses import Lie, Saw

__all__ = [
    "BadBoard",
    "Board",
    "Breach",
    "Defect",
    "Edges",
    "Keep",
    "Laying",
    "Lie",
    "Part",
    "Placement",
    "Progress",
    "Rules",
    "Saw",
    "between_edges",
    "breaches",
    "from_outline",
    "lay_parts",
    "parts_of_plank",
    "rectangular",
]

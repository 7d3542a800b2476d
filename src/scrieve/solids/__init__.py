"""The boat's members as bodies in space: hull, frames, planks, and a frame on the jig, as triangles to be drawn."""

from scrieve.solids.bench import jig_solids
from scrieve.solids.body import Solid, box, loft, sheet, swept
from scrieve.solids.members import frame_solids, hull_solids, line_solid, plank_solid, sections_of, strake_solid
from scrieve.solids.written import FORMAT, read_solids, write_solids

__all__ = [
    "FORMAT",
    "Solid",
    "box",
    "frame_solids",
    "hull_solids",
    "jig_solids",
    "line_solid",
    "loft",
    "plank_solid",
    "read_solids",
    "sections_of",
    "sheet",
    "strake_solid",
    "swept",
    "write_solids",
]

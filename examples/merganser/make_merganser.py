"""Make the demo boat's input files: marks as a person would take them off the invented Merganser, and her seams.

    python examples/merganser/make_merganser.py [--to FOLDER]

The same seed gives the same files to the byte. They are read as a user's own files would be; only what a builder
could know is in them, not where the two planted blunders are: those are named here, for the tests.
"""

from __future__ import annotations

import argparse
import csv
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import batten
import form
import numpy as np

SEED = 1924
SIGMA_MM = 1.5
FIRST_STATION_MM = 600
SPACING_MM = 300
FRAMES = range(1, 43)

ROTTEN = (10, 11, 13, 14, 15, 18, 19, 22, 23, 24, 27, 30, 31, 35)
NOT_MEASURED = (13, 19, 23, 31)
ONE_SIDE_ONLY = {11: "S", 24: "P"}  # the other side is too far gone to mark

#: (frame, side, mark): what was added to the height and to the half-breadth [mm].
BLUNDERS = {
    (17, "P", "6"): (304.8, 0.0),  # the tape read a foot too high
    (29, "S", "9"): (0.0, -25.0),  # 25 mm misread
}

TIMBER, SIDED_MM, MOULDED_MM = "sapele/larch", 45, 60
NEW_FRAMES = {
    14: "rotten from the turn of the bilge up",
    15: "broken at the turn of the bilge",
    18: "rotten at the heel",
    19: "gone, could not be measured: made from the fair hull",
    22: "rotten at the heel and under the riser",
    30: "soft at the head",
}

STRAKES = 13
GARBOARD_SHARE = 0.088  # the garboard's upper seam, as a share of the girth from the rabbet
GARBOARD_FRAMES = range(9, 26)
#: Strakes counted from the garboard, and the frames over which each is renewed: butts of neighbours lie apart.
TOPSIDES = {11: range(20, 36), 12: range(16, 33)}
SPILED, SPILED_FRAMES = 9, range(6, 17)


def station_mm(frame: int) -> int:
    """Station of a frame, aft from the fore side of the stem [mm]."""
    return FIRST_STATION_MM + SPACING_MM * (frame - 1)


def marked_frames(side: str) -> list[int]:
    """Frames that could be marked on this side."""
    return [f for f in FRAMES if f not in NOT_MEASURED and ONE_SIDE_ONLY.get(f, side) == side]


def uneven_shares(rng: np.random.Generator, count: int) -> form.Array:
    """Shares of the girth, heel to head, about evenly spaced, as a person sets them by eye."""
    even = np.linspace(0.0, 1.0, count)
    by_eye = even + rng.uniform(-0.33, 0.33, count) / (count - 1)
    by_eye[[0, -1]] = 0.0, 1.0
    return by_eye


def marks() -> Iterable[tuple[object, ...]]:
    """Rows of marks.csv."""
    rng = np.random.default_rng(SEED)
    for frame in FRAMES:
        for side in "PS":
            if frame not in marked_frames(side):
                continue
            x = station_mm(frame)
            true = form.section_at(x, uneven_shares(rng, int(rng.integers(12, 16))), side)
            count = len(true.s_mm)
            read = np.stack([true.height_mm, true.half_breadth_mm], axis=-1) + rng.normal(0.0, SIGMA_MM, (count, 2))
            for i, (height, half_breadth) in enumerate(read):
                label, kind = {0: ("R", "heel"), count - 1: ("S", "sheer")}.get(i, (str(i), ""))
                slip_up, slip_out = BLUNDERS.get((frame, side, label), (0.0, 0.0))
                note = "frame rotten: marked to the plank" if frame in ROTTEN and i == 0 else ""
                row = (round(height + slip_up), round(half_breadth + slip_out))
                yield frame, x, *row, side, label, SIGMA_MM, kind, note


def new_frames() -> Iterable[tuple[object, ...]]:
    """Rows of frames.csv."""
    for frame, note in NEW_FRAMES.items():
        yield frame, station_mm(frame), TIMBER, SIDED_MM, MOULDED_MM, note


def garboard() -> Iterable[tuple[object, ...]]:
    """Rows of garboard.csv: girth of the two seams from the rabbet, at frames that could be marked."""
    for frame in (f for f in marked_frames("P") if f in GARBOARD_FRAMES):
        upper = form.section_at(station_mm(frame), [GARBOARD_SHARE], "P").s_mm[0]
        yield frame, "lower", 0
        yield frame, "upper", batten.half_mm(upper)


def topside(strake: int) -> Iterable[tuple[object, ...]]:
    """Rows of a topside strake's file: heights of its two seams, at frames that could be marked."""
    for frame in (f for f in marked_frames("P") if f in TOPSIDES[strake]):
        shares = [(strake - 1) / STRAKES, strake / STRAKES]
        lower, upper = form.section_at(station_mm(frame), shares, "P").height_mm
        yield frame, "lower", batten.half_mm(lower)
        yield frame, "upper", batten.half_mm(upper)


def spiled() -> Iterable[tuple[object, ...]]:
    """Rows of spiling.csv: the marks on the batten that lay between the seams of the spiled strake."""
    frames = [f for f in marked_frames("P") if f in SPILED_FRAMES]
    shares = (SPILED - 1) / STRAKES, SPILED / STRAKES
    yield from batten.marks(frames, *batten.laid_flat([station_mm(f) for f in frames], shares, "P"))


ABOUT = (
    f"Invented data: made by make_merganser.py, seed {SEED}.",
    "Merganser, lake mail launch, 13.6 m, 1924: no such vessel. Lying at Alder Slip: no such place.",
)
PORT_SIDE = "Port side, as she lies; inside of planking."


@dataclass(frozen=True)
class Sheet:
    """One file: what it says of itself, its columns and how its rows are made."""

    name: str
    about: tuple[str, ...]
    columns: str
    rows: Callable[[], Iterable[tuple[object, ...]]]


FILES = (
    Sheet(
        "marks.csv",
        (
            "Marks to the inside of planking, both sides (P, S). Stations aft from the fore side of the stem, heights",
            f"above the baseline. Each reading is good to {SIGMA_MM} mm (sigma). Two readings are wrong on purpose.",
            f"Frames {', '.join(map(str, NOT_MEASURED))} could not be measured at all.",
        ),
        "frame station_mm height_mm half_breadth_mm side mark sigma_mm kind note",
        marks,
    ),
    Sheet(
        "frames.csv",
        ("Frame pairs to be laminated new, port and starboard.",),
        "frame station_mm timber sided_mm moulded_mm note",
        new_frames,
    ),
    Sheet(
        "garboard.csv",
        (f"The garboard to be renewed: girth of its seams from the rabbet. {PORT_SIDE}",),
        "frame edge girth_mm",
        garboard,
    ),
    *(
        Sheet(
            f"topside_{strake}_port.csv",
            (f"Strake {strake} of {STRAKES} to be renewed: height of its seams. {PORT_SIDE}",),
            "frame edge height_mm",
            partial(topside, strake),
        )
        for strake in TOPSIDES
    ),
    Sheet(
        "spiling.csv",
        (
            f"One length of strake {SPILED} of {STRAKES}, port, spiled on the frames: a block along the lower seam,",
            "compass arcs from two pricks to each point of the upper. Read off the batten from its datum line.",
        ),
        "frame edge kind x_mm y_mm opening_mm",
        spiled,
    ),
)


def make(folder: Path) -> list[Path]:
    """Write all files into `folder`, the remarks first, each line starting with #; return their paths."""
    folder.mkdir(parents=True, exist_ok=True)
    for sheet in FILES:
        with (folder / sheet.name).open("w", encoding="utf-8", newline="") as file:
            file.writelines(f"# {line}\n" for line in (*ABOUT, *sheet.about))
            writer = csv.writer(file, lineterminator="\n")
            writer.writerow(sheet.columns.split())
            writer.writerows(sheet.rows())
    return [folder / sheet.name for sheet in FILES]


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--to", type=Path, default=Path(__file__).parent, help="folder to write into")
    for made in make(parser.parse_args().to):
        print(made.name)

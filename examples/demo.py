"""The demo: the whole chain on the invented launch Merganser, by the same commands that a builder types.

Run by `make demo`. Every input is a file in examples/merganser, read as a user's would be.
"""

from __future__ import annotations

import argparse
import json
import resource
import shlex
import shutil
import time
from collections.abc import Sequence
from contextlib import redirect_stdout
from io import StringIO
from pathlib import Path

from scrieve.cli import scrieve

FILES = Path(__file__).parent / "merganser"

#: Planks and the options they are drawn with; the ends stand between frames, where butts belong, and those of the two
#: topside strakes, which share a seam, three spaces apart or more.
PLANKS = {
    "garboard": ("--seams", "garboard.csv", "--side", "P", "--first", "3150mm", "--last", "7650mm"),
    "topside 11": ("--seams", "topside_11_port.csv", "--side", "P", "--first", "6450mm", "--last", "10650mm"),
    "topside 12": ("--seams", "topside_12_port.csv", "--side", "P", "--first", "5250mm", "--last", "9450mm"),
    "strake 9": ("--spiling", "spiling.csv", "--side", "P"),
}
BUTT_RULES = "army, usual frame spacing"


def run(*words: str, show: bool = True) -> str:
    """Run one command as typed; return what it printed."""
    if show:
        print("$ scrieve " + shlex.join(words), flush=True)
    out = StringIO()
    with redirect_stdout(out):
        scrieve.main(list(words), prog_name="scrieve", standalone_mode=False)
    return out.getvalue()


def main(arguments: Sequence[str] | None = None) -> None:
    """Make the demo boat, run the chain, write the sheets, and say what was found."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--to", type=Path, default=Path("build/demo"), help="folder to write into")
    folder: Path = parser.parse_args(arguments).to
    began = time.monotonic()
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    boat = str(folder / "merganser.boat")

    print("The launch Merganser of Alder Slip: an invented boat, to show the whole chain.\n")
    run("new", boat, "--name", "Merganser", "--planking", "inside", "--thickness", "28mm", "--beam", "2900mm",
        "--note", "Invented for the demo: no such vessel.")  # fmt: skip
    print(run("marks", boat, "add", str(FILES / "marks.csv"), "--slips", "store"), end="")
    hull = json.loads(run("fair", boat, "--json"))
    print(f"  fair hull in {time.monotonic() - began:.1f} s")
    shape = run("shape", boat, "--at", "19" if "19" in [f["frame"] for f in hull["frames"]] else "6000", "--csv")
    (folder / "shape-at-6000.csv").write_text(shape)
    frames = json.loads(run("frame", boat, "--from", str(FILES / "frames.csv"), "--json"))
    print(f"  {len(frames)} pairs of frames designed")
    planks = []
    for name, (kind, file, *options) in PLANKS.items():
        planks.append(json.loads(run("plank", boat, name, kind, str(FILES / file), *options, "--json")))
    for i, (name, (kind, *_)) in enumerate(PLANKS.items()):  # the ends of each against all that are there now
        if kind == "--seams":
            planks[i] = json.loads(run("plank", boat, name, "--butt-rules", BUTT_RULES, "--json"))
    sheets = json.loads(run("sheets", boat, "--to", str(folder / "sheets"), "--paper", "A4", "--json"))
    summary(hull, frames, planks)
    total = sum(sheet["bytes"] for sheet in sheets)
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"\nSheets: {len(sheets)} files, {total / 1e6:.1f} MB, in {folder / 'sheets'} (contents.csv lists them).")
    print(f"Done in {time.monotonic() - began:.0f} s, {memory:.0f} MB of memory at most. The boat: {boat}")


def summary(hull: dict, frames: list[dict], planks: list[dict]) -> None:
    """Print what was found, in short."""
    print(f"\nHull: {len(hull['marks'])} marks on {len(hull['frames'])} frames lie {hull['rms_mm']:.1f} mm off (rms).")
    for mark in (mark for mark in hull["marks"] if mark["suspect"]):
        guess = f" ({mark['guess']})" if mark["guess"] else ""
        print(
            f"  suspect: frame {mark['frame']} {mark['side']} mark {mark['mark']}: {mark['residual_mm']:+.0f} mm{guess}"
        )
    print("Frames:")
    for frame in frames:
        packet, blank = frame["packet"], frame["blank"]
        plies = packet["laminations"]
        met = sum(check["ok"] for check in frame["checks"])
        print(
            f"  {frame['frame']:>3}: {len(plies)} × {plies[0]['thickness_mm']:g} mm, "
            f"springback {packet['springback']:.2%}, "
            f"blank {blank['siding_mm']:.0f} × {blank['depth_mm']:.0f} × {blank['length_mm']:.0f}, "
            f"{len(frame['jig']['brackets'])} brackets, {met} of {len(frame['checks'])} checks met"
        )
    print("Planks:")
    for plank in planks:
        board = plank["board"]
        met = sum(check["ok"] for check in plank["checks"])
        print(
            f"  {plank['name']}: board {board['length_mm']:.0f} × {board['width_mm']:.0f} × "
            f"{board['thickness_mm']:.0f}, crown {board['crown_mm']:.0f} mm, {met} of {len(plank['checks'])} checks met"
            + "".join(f"; its butts: {check['found']}" for check in plank.get("butt_rules", ())[:1])
        )


if __name__ == "__main__":
    main()

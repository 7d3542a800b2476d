"""Sixty frame pairs: settings, sheets and tables of all of them, timed as the pack of a whole boat is made.

`python bench/sixty.py` prints seconds by the clock and of the processor. The hull is faired before, once; the order
of the frames on the jig is not sought. Of the whole, the settings are made beside the sheets, so that both cores work.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import numpy as np
from demo import demo_boat

from scrieve.chain import Kept
from scrieve.cli.sheets import packs
from scrieve.fairing.hull import Tick
from scrieve.frames import FrameChoice
from scrieve.frames.design import FrameDesign
from scrieve.frames.jig.setting_kept import JigKept, frame_on_bed


class Once(Kept):
    """Every frame designed once for one boat, whatever it is asked for; the pages keep their designs in the same way,
    but in one place for all boats, from which the parts would have what the whole designed before them.
    """

    def frame(self, label: str, tick: Tick | None = None) -> FrameDesign:
        made: dict[str, FrameDesign] = self.__dict__.setdefault("made", {})
        if label not in made:
            entry = self.frames[label]
            made[label] = self.design(FrameChoice.from_mapping(entry["choice"]), entry["station_mm"], tick, label)
        return made[label]


def demo(frames: int) -> Kept:
    """The demo boat's hull, with so many frames evenly along it, all to one choice."""
    work = demo_boat()
    places = np.linspace(*work.hull().x_range, frames + 2)[1:-1]
    choice = FrameChoice(timber="sapele/larch", sided_mm=45.0, moulded_mm=60.0)
    named = {
        str(n): {"choice": replace(choice, frame=str(n)).to_mapping(), "station_mm": float(x)}
        for n, x in enumerate(places, start=1)
    }
    return Once(work.boat, work.marks, work.answers, named, work.planks, work.springs)


def timed(name: str, job: Callable[[], object]) -> None:
    """Do a job and print what it took."""
    wall, cpu = time.perf_counter(), time.process_time()
    done = job()
    print(f"{name:46s} {time.perf_counter() - wall:5.1f} s  {time.process_time() - cpu:5.1f} s of processor  {done}")


def designed(work: Kept) -> int:
    """Design every frame."""
    return len([work.frame(label) for label in work.frames])


def set_on_bed(work: Kept) -> str:
    """Set every frame on the jig, each from how it stands."""
    designs = [work.frame(label) for label in work.frames]
    return f"{sum(len(frame_on_bed(each, '', JigKept()).jig.brackets) for each in designs)} brackets"


def sheets(work: Kept) -> str:
    """Every sheet, pattern, table and drawing, several frames at once as `scrieve sheets` makes them."""
    written = [files for _, _, files in packs(work, 914.4, (), "", "2026-01-01")]
    size = sum(len(data) for files in written for data in files.values()) / 1e6
    return f"{sum(map(len, written))} files, {size:.0f} MB"


def all_of(work: Kept) -> str:
    """Sheets and settings, the settings beside the sheets: a frame designed for one of them serves the other."""
    with ThreadPoolExecutor(1) as beside:
        written = beside.submit(sheets, work)
        brackets = set_on_bed(work)
        return f"{written.result()}; {brackets}"


def main() -> None:
    """Print the times: of the whole first, as a boat is brought from a fair hull to the bench; then of its parts."""
    frames = int(sys.argv[1]) if len(sys.argv) > 1 else 60
    whole, parts = demo(frames), demo(frames)
    for work in (whole, parts):
        work.hull().sd_mm(5000.0, 0.5)
    timed(f"{frames} frames: designed, set, every sheet", lambda: all_of(whole))
    print("its parts, one after the other:")
    timed("designed", lambda: designed(parts))
    timed("set on the jig, with change list", lambda: set_on_bed(parts))
    timed("every sheet, table and drawing", lambda: sheets(parts))


if __name__ == "__main__":
    main()

"""Setting the jig: how much of the setting time pose and order save, on the demo boat and on random hulls.

`python bench/poses.py [hulls]` prints the table of docs/jig.md. The naive way is timed twice, and the quicker of the
two counts: every frame with its chord on the same datum, in hull order, what the rails leave over shared by its
ends; or its heel always on the same mark. A bracket of the naive way within 0.5 mm of its travel is left.
"""

from __future__ import annotations

import sys
import time
from dataclasses import dataclass, replace

import numpy as np
from demo import demo_boat
from forms import FORMS, LENGTH, MORE, Form

from scrieve.errors import ScrieveError
from scrieve.fairing.section import Section
from scrieve.frames.choice import FrameChoice
from scrieve.frames.jig.bed import JigBed
from scrieve.frames.jig.poses import FrameToSet, Plan, plan_settings
from scrieve.frames.jig.poses_curve import Curve
from scrieve.frames.packet.bending import bend
from scrieve.frames.packet.laminations import lay
from scrieve.frames.shape.line import line_of
from scrieve.timber.species import species

#: Share of the packet's length in every rail's spacing: nine brackets or so to a frame.
BAYS = 8.3


def packet(section: Section, label: str) -> FrameToSet:
    """The frame's packet of ten larch laminations of 6 mm, bent."""
    choice = FrameChoice(frame=label)
    line = line_of(section)
    found = lay(line, [species("larch")] * 10, [6.0] * 10, 2.0, 1.0)
    return FrameToSet(bend(line, found, choice), choice)


def demo_frames(stations: np.ndarray | None = None) -> list[FrameToSet]:
    """Frames of the demo boat: the six that are made new, or at the stations given."""
    hull = demo_boat().hull()
    if stations is None:
        stations = np.array([4500.0, 4800.0, 5700.0, 6000.0, 6900.0, 9300.0])
    return [packet(hull.section(float(x), 400), f"{x / 300 - 1:.0f}") for x in stations]


def random_frames(seed: int, count: int = 25) -> list[FrameToSet]:
    """Frames of a hull by a form without knuckles, its beam, depth, flare, spacing and part of length drawn by lot."""
    rng = np.random.default_rng(seed)
    smooth = [form for form in (*FORMS, *MORE) if not form.knuckles]
    form = smooth[int(rng.integers(len(smooth)))]
    scale = np.array([rng.uniform(0.85, 1.2), rng.uniform(0.85, 1.25)])
    lean = rng.uniform(-0.12, 0.12)
    spacing = rng.uniform(200, 330)
    middle = rng.uniform(-0.12, 0.16) * LENGTH
    frames = []
    for i in range(count):
        x = float(np.clip(middle + (i - count / 2) * spacing, -0.44 * LENGTH, 0.44 * LENGTH))
        try:
            frames.append(packet(_section(form, x, scale, lean), str(i + 1)))
        except ScrieveError:
            continue  # too sharp a turn for any packet: no laminated frame
    return frames


def _section(form: Form, x: float, scale: np.ndarray, lean: float) -> Section:
    points = form.section(x, np.linspace(0.05, 0.97, 2001)) * scale
    points = points + lean * np.outer((points[:, 1] - points[0, 1]) ** 2 / np.ptp(points[:, 1]), [1.0, 0.0])
    s = np.r_[0.0, np.cumsum(np.hypot(*np.diff(points, axis=0).T))]
    few = np.linspace(0, s[-1], 60)
    at = np.column_stack([np.interp(few, s, column) for column in points.T])
    n = len(few)
    return Section("", x, few, at[:, 0], at[:, 1], np.zeros(n), np.zeros(n), np.zeros(n))


def bed_for(frames: list[FrameToSet], pitch: float | None = None) -> JigBed:
    """A bed with rails so far apart that a frame takes nine brackets or so."""
    chord = float(np.mean([np.hypot(*np.ptp(f.bent.face.points_mm[[0, -1]], axis=0)) for f in frames]))
    pitch = pitch or round(chord / BAYS / 5) * 5.0
    rails = int((chord * 1.6 + 2 * pitch) // pitch)
    return JigBed(
        length_mm=rails * pitch, rails=rails, pitch_mm=pitch, first_mm=pitch / 2, brackets=rails, between=False
    )


def heel_on_a_mark(frames: list[FrameToSet], bed: JigBed) -> float:
    """Minutes of the naive way with the heel always on the same mark, the first frame's."""
    travel = np.full(bed.rails, np.nan)
    minutes = 0.0
    mark = None
    for each in frames:
        curve = Curve(each.bent, each.choice, bed)
        pose = curve.reference(bed.along_mm)
        mark = pose.along_mm + curve.high if mark is None else mark
        pose = replace(pose, along_mm=mark - curve.high)
        met = curve.meet(pose.array()[None], bed.along_mm)
        under, exact = met.under[0], np.round(met.height_mm[0] * 2) / 2
        moved = under & ~(np.abs(exact - travel) <= 0.5)
        by = np.where(np.isfinite(travel), np.abs(exact - travel), 0.0)
        minutes += bed.frame_min + bed.move_min * moved.sum() + bed.mm_min * by[moved].sum()
        travel = np.where(moved, exact, travel)
    return float(minutes)


@dataclass(frozen=True)
class Trial:
    """One set of frames, planned; `saving` against the quicker of the two naive ways, `poses` in hull order."""

    name: str
    plan: Plan
    naive_min: float
    saving: float
    share_of_three: float
    truest_mm: float
    seconds: float


def trial(name: str, frames: list[FrameToSet], pitch: float | None = None, **options: bool) -> Trial:
    """Plan one set; the processor's time counts, not the clock's."""
    bed = bed_for(frames, pitch)
    began = time.process_time()
    plan = plan_settings(frames, bed, **options)
    took = time.process_time() - began
    naive = min(plan.naive_minutes, heel_on_a_mark(frames, bed))
    changes = plan.naive[1:]
    three = 3 / np.mean([len(each.moved) for each in changes])
    after = plan.setups[1:], naive - plan.naive[0].minutes
    saving_of_changes = 1 - sum(each.minutes for each in after[0]) / after[1]
    return Trial(
        name,
        plan,
        naive,
        1 - plan.minutes / naive,
        saving_of_changes / three,
        max(each.departure_mm for each in plan.setups),
        took,
    )


def line(t: Trial) -> str:
    """One row of the table."""
    naive, plan = t.plan.naive, t.plan.setups
    gap = f"{t.plan.gap:.0%}" if t.plan.gap is not None else "-"
    return (
        f"{t.name:26s} {len(plan):3d} {t.plan.bed.pitch_mm:5.0f} "
        f"{np.mean([len(s.moved) + len(s.kept) for s in naive]):5.1f} "
        f"{np.mean([len(s.moved) for s in naive[1:]]):5.1f} {np.mean([len(s.moved) for s in plan[1:]]):5.1f} "
        f"{t.naive_min:6.0f} {t.plan.minutes:6.0f} {t.saving:6.1%} {t.share_of_three:6.2f} {gap:>5s} "
        f"{t.truest_mm:5.2f} {t.seconds:6.1f}"
    )


def main() -> None:
    """Print the table."""
    hulls = int(sys.argv[1]) if len(sys.argv) > 1 else 12
    print(f"{'set':26s}   n pitch  brac moved  plan  naive   plan saving  /three  gap   off  cpu s")
    every = demo_frames(np.arange(3300.0, 10801.0, 300.0))
    print(line(trial("demo, six made", demo_frames())), flush=True)
    for pitch in (None, 200.0):
        print(line(trial("demo, 26 stations", every, pitch)), flush=True)
    print(line(trial("demo, hull order kept", every, keep_order=True)), flush=True)
    print(line(trial("demo, ten", every[4:14])), flush=True)
    trials = [trial(f"random hull {seed}", random_frames(seed)) for seed in range(hulls)]
    for each in trials:
        print(line(each), flush=True)
    savings = np.array([each.saving for each in trials])
    print(
        f"random hulls: saving {savings.mean():.1%}, sd {savings.std():.1%}, least {savings.min():.1%}, most "
        f"{savings.max():.1%}; {int((savings >= 0.25).sum())} of {len(savings)} save a quarter or more"
    )
    print(line(trial("random hull, forty", random_frames(7, 40))), flush=True)


if __name__ == "__main__":
    main()

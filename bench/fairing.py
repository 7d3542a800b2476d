"""The fair hull against the bars set for it, line by line: python bench/fairing.py

Three forms of 15 m with exact answers; marks with 1.5 mm error both ways, 2 % of them 10 to 300 mm out; 25 frames x 14
marks, three inner frames withheld. Opponents (opponents.py) get the same marks in the same run. Every part can be run
by itself (--only), on more seeds (--seeds), on other forms (--forms more) and on hulls of other sizes (--sizes);
--where tells where in the hull the errors lie.
"""

from __future__ import annotations

import argparse
import os
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import partial

import cost
import numpy as np
from accuracy import BOAT, SIGMA_MM, EndTrial, Lines, Trial, between, end_trials, lines, trial
from forms import FORMS, INVENTED, MORE, Form
from opponents import KERNELS
from planted import take_off

from scrieve.fairing import fair
from scrieve.fairing.placing import SUSPECT_SD_PINNED

PARTS = ("accuracy", "next", "ends", "exact", "invented", "speed", "memory", "batten")
#: Bars of the three forms on withheld frames, root mean square [mm]; other forms are held to that of the round one.
WITHHELD_BAR = {"wigley": 1.2, "round bilge": 1.6, "hard chine": 1.2}
#: How far a blunder may move an end [mm]: our own figure, half the smallest one that is planted there.
MOVED_BAR = 6.0
#: name: (length as a multiple of 15 m, frames, marks of a frame, how far stations stray, withheld)
SIZES = {
    "5 m, 6 x 8": (1 / 3, 6, 8, 0.15, ()),
    "5 m, 8 x 10": (1 / 3, 8, 10, 0.3, (3,)),
    "8 m, 12 x 12": (8 / 15, 12, 12, 0.35, (5,)),
    "15 m, 16 x 12": (1.0, 16, 12, 0.4, (4, 10)),
    "25 m, 40 x 16": (25 / 15, 40, 16, 0.4, (10, 22, 30)),
    "45 m, 80 x 18": (3.0, 80, 18, 0.4, (20, 41, 60)),
}


def rms(values: np.ndarray) -> float:
    return float(np.sqrt(np.mean(np.square(values)))) if np.size(values) else float("nan")


class Bars:
    """Lines of 'bar / ours / met or not', and how many were missed."""

    def __init__(self) -> None:
        self.missed: list[str] = []
        self.count = 0

    def head(self, title: str) -> None:
        print(f"\n## {title}\n\n| what | bar | ours | met |\n|---|---|---|---|", flush=True)

    def line(self, what: str, bar: float | None, ours: float, unit: str = "", *, least: bool = False, n: int = 2):
        """One line; without a bar it only tells."""
        said = f"{ours:.{n}f}{unit}"
        if bar is None:
            print(f"| {what} | – | {said} | |", flush=True)
            return
        met = bool(ours >= bar if least else ours <= bar)
        self.tell(what, f"{'≥' if least else '≤'} {bar:g}{unit}", said, met)

    def between(self, what: str, low: float, high: float, ours: float, unit: str) -> None:
        met = low <= ours <= high
        self.tell(what, f"{low:g}–{high:g}{unit}", f"{ours:.1f}{unit}", met)

    def tell(self, what: str, bar: str, ours: str, met: bool) -> None:
        print(f"| {what} | {bar} | {ours} | {'met' if met else '**not met**'} |", flush=True)
        self.count += 1
        if not met:
            self.missed.append(what)


def of_all(trials: Sequence[Trial], which: Callable[[Trial], Sequence[int]]) -> Lines:
    parts = [t.lines.take(list(which(t))) for t in trials]
    return Lines(np.concatenate([p.off for p in parts]), np.concatenate([p.sd for p in parts]))


def accuracy(forms: Sequence[Form], seeds: int, bars: Bars, run: Callable) -> dict[str, list[Trial]]:
    jobs = [(form, seed) for form in forms for seed in range(seeds)]
    done = run(trial, jobs)
    by_form = {form.name: done[i * seeds : (i + 1) * seeds] for i, form in enumerate(forms)}
    for name, trials in by_form.items():
        bars.head(f"{name}: {seeds} seeds, 25 x 14 marks, {SIGMA_MM} mm, 2 % blunders, frames 6, 11, 17 withheld")
        gone = of_all(trials, lambda t: t.withheld)
        met, inner, ends = (
            of_all(trials, w) for w in (lambda t: [*t.inner, *t.ends], lambda t: t.inner, lambda t: t.ends)
        )
        bars.line("withheld frames heel to head, rms mm", WITHHELD_BAR.get(name, 1.6), rms(gone.off))
        bars.line("… their largest, mm", 8, float(np.abs(gone.off).max()), n=1)
        bars.line("measured frames, rms mm (0.8 of the noise)", 0.8 * SIGMA_MM, rms(met.off))
        bars.line("… inner ones alone, rms mm", None, rms(inner.off))
        bars.line("… their largest, mm", None, float(np.abs(inner.off).max()), n=1)
        bars.line("first and last frame, rms mm", None, rms(ends.off))
        bars.line("… their largest, mm", None, float(np.abs(ends.off).max()), n=1)
        bars.line("… their stated sd, rms mm", None, rms(ends.sd))
        bars.between("… within their 2 sd", 90, 100, 100 * float(ends.inside.mean()), " %")
        if trials[0].knuckle.size:
            knuckle = np.stack([t.knuckle for t in trials])
            bars.line("knuckle from the true one, inner frames, largest mm", 4, float(knuckle[:, 1:-1].max()), n=1)
            bars.line("… rms mm", None, rms(knuckle[:, 1:-1]))
            bars.line("… first and last frame, largest mm", None, float(knuckle[:, [0, -1]].max()), n=1)
        opponents(trials, gone, bars)
        every = of_all(trials, lambda t: [*t.withheld, *t.inner, *t.ends])
        bars.between("± honesty, all frames within 2 sd", 92, 98, 100 * float(every.inside.mean()), " %")
        bars.line("… withheld frames", None, 100 * float(gone.inside.mean()), " %", n=1)
        planted, named = sum(t.planted for t in trials), sum(t.named for t in trials)
        bars.line(
            f"blunders over 12 mm named ({named} of {planted})",
            97,
            100 * named / max(planted, 1),
            " %",
            least=True,
            n=1,
        )
        bars.line("good marks named", 1, 100 * sum(t.false for t in trials) / sum(t.good for t in trials), " %")
        bars.line("one fairing, CPU s", None, float(np.mean([t.seconds for t in trials])))
        for number, t in enumerate(trials):
            if t.missed:
                print(f"  seed {number}: not named: {'; '.join(t.missed)}")
    named, planted = (sum(getattr(t, k) for t in done) for k in ("named", "planted"))
    bars.head("all forms together")
    bars.line(f"blunders over 12 mm named ({named} of {planted})", 97, 100 * named / planted, " %", least=True, n=1)
    bars.between("± honesty", 92, 98, 100 * float(np.mean([np.mean(t.lines.inside) for t in done])), " %")
    return by_form


def opponents(trials: Sequence[Trial], gone: Lines, bars: Bars) -> None:
    """Ratios to the opponents: on the same marks without blunders and with them, and ours with against them without."""
    clean = rms(np.concatenate([t.clean.off[list(t.withheld)] for t in trials if t.clean]))
    other = {name: rms(np.concatenate([t.others[name] for t in trials])) for name in trials[0].others}
    spline = other["spline"]
    bars.line(f"ours with blunders / smoothing spline without ({spline:.2f} mm)", 0.7, rms(gone.off) / spline)
    bars.line("… both without", 0.7, clean / spline)
    for kernel in KERNELS:
        gp, kept = other[kernel], other[f"{kernel}, ours out"]
        # on the same marks both ways; that the opponent cannot find blunders is not held against it
        bars.line(f"ours / GP {kernel}, neither with blunders ({gp:.2f} mm)", 1.1, clean / gp, n=3)
        bars.line(f"… both with, GP spared the marks ours named ({kept:.2f} mm)", 1.1, rms(gone.off) / kept, n=3)
        bars.line("… unequal: ours with, GP without", None, rms(gone.off) / gp)


def next_to_end(forms: Sequence[Form], seeds: int, bars: Bars, run: Callable) -> None:
    """Frames withheld next to the ends, and two neighbours withheld: no bar of its own, told for what it is."""
    trials = run(
        partial(trial, withheld=(1, 11, 12, 23), opponents=False), [(f, s) for f in forms for s in range(seeds)]
    )
    bars.head("withheld: frames 1 and 23 (next to the ends), 11 and 12 (neighbours)")
    for i, form in enumerate(forms):
        own = trials[i * seeds : (i + 1) * seeds]
        for what, which in (("next to the ends", [1, 23]), ("two neighbours", [11, 12])):
            some = of_all(own, lambda t, which=which: which)
            bars.line(f"{form.name}, {what}: rms mm", None, rms(some.off))
            bars.line(
                "… largest mm; within 2 sd: " + f"{100 * some.inside.mean():.0f} %",
                None,
                float(np.abs(some.off).max()),
                n=1,
            )


def ends(forms: Sequence[Form], seeds: int, bars: Bars, run: Callable) -> None:
    found: list[EndTrial] = [
        one for some in run(end_trials, [(f, s) for f in forms for s in range(seeds)]) for one in some
    ]
    bars.head(f"blunders of 12 to 300 mm planted at heel, head and knuckles ({len(found)}), out or along the frame")
    for form in forms:
        for kind in ("heel", "head", "knuckle"):
            here = [one for one in found if (one.form, one.kind) == (form.name, kind)]
            if here:
                moved = np.array([one.moved_mm for one in here])
                share = 100 * np.mean([one.named for one in here])
                bars.line(f"{form.name}, {kind}: moved, rms mm (named {share:.0f} %)", None, rms(moved))
                bars.line("… moved, largest mm", MOVED_BAR, float(moved.max()), n=1)
    bars.line(
        "all: beyond 2 sd of the truth with the blunder, %",
        None,
        100 * float(np.mean([o.after_mm > 2 * o.sd_mm for o in found])),
        n=1,
    )
    named = [one for one in found if one.named]
    off = [one.after_mm > 2 * one.sd_mm for one in named]
    bars.line(f"those named ({len(named)} of {len(found)}): beyond 2 sd of the truth, %", None, 100 * np.mean(off), n=1)
    bars.line("… moved, largest mm", None, max(one.moved_mm for one in named), n=1)
    hidden = [one for one in found if not one.named and one.out_by_sd < SUSPECT_SD_PINNED]
    bars.line(
        f"not named ({len(found) - len(named)}), though without it the others tell, past {SUSPECT_SD_PINNED:g} sd",
        0,
        float(len(found) - len(named) - len(hidden)),
        n=0,
    )
    bars.line("… the others: largest z, the mark left out", None, max((o.out_by_sd for o in hidden), default=0.0))
    for one in sorted(found, key=lambda one: -one.moved_mm)[:8]:
        print(
            f"  {one.form} frame {one.frame} {one.kind} {one.size_mm:+.0f} mm {'along' if one.along else 'out'}: moved "
            f"{one.moved_mm:.1f}, off {one.before_mm:.1f} before, {one.after_mm:.1f} after (sd {one.sd_mm:.1f})"
            + ("" if one.named else f", NOT named: left out z {one.out_by_sd:.1f}, known to {one.foretold_mm:.0f} mm")
        )


def invented(seeds: int, bars: Bars, run: Callable) -> None:
    """Hulls drawn by lot, five kinds of five sizes: no bar but honesty, for nothing is known of them beforehand."""
    bars.head("hulls drawn by lot: 1.5 mm, 2 % blunders")
    for kind in INVENTED:
        made = partial(
            trial, opponents=False, frames=kind.frames, marks=kind.marks, scale=kind.scale, uneven=kind.uneven,
            withheld=kind.withheld,
        )  # fmt: skip
        count = seeds if kind.frames <= 30 else min(seeds, 2)
        trials = run(made, [(kind.form(seed), seed) for seed in range(count)])
        inner, ends = (of_all(trials, w) for w in (lambda t: t.inner, lambda t: t.ends))
        size = f"{kind.name}, {15 * kind.scale:.0f} m, {kind.frames} x {kind.marks}, {count} seeds"
        if kind.withheld:
            gone = of_all(trials, lambda t: t.withheld).off
            bars.line(f"{size}: withheld frames, rms mm", None, rms(gone))
            bars.line("… their largest, mm", None, float(np.abs(gone).max()), n=1)
        bars.line(f"{size}: measured inner frames, rms mm", None, rms(inner.off))
        bars.line("… their largest, mm", None, float(np.abs(inner.off).max()), n=1)
        bars.line("… first and last frame, rms mm", None, rms(ends.off))
        every = of_all(trials, lambda t: range(len(t.take.stations)))
        bars.between("… within 2 sd", 92, 98, 100 * float(every.inside.mean()), " %")
        planted, named = sum(t.planted for t in trials), sum(t.named for t in trials)
        bars.line(f"… blunders over 12 mm named ({named} of {planted})", None, 100 * named / max(planted, 1), " %", n=1)
        bars.line("… good marks named", 1, 100 * sum(t.false for t in trials) / sum(t.good for t in trials), " %")
    few(seeds, bars, run)


def few(seeds: int, bars: Bars, run: Callable) -> None:
    """Few frames: how much of the true lines half-way between frames the band holds."""
    bars.head("few frames x 14 marks, half-way between frames, all forms: within 2 sd")
    for frames in (4, 5, 6, 8):
        pairs = run(partial(between, frames=frames), [(form, seed) for form in FORMS + MORE for seed in range(seeds)])
        bars.line(f"{frames} frames, %", None, 100 * float(np.mean([held for held, _ in pairs])), n=1)
        bars.line("… off, rms mm", None, rms([off for _, off in pairs]), n=1)


def exact(forms: Sequence[Form], seeds: int, bars: Bars) -> None:
    bars.head("exact marks, 25 x 14, frames 6, 11, 17 withheld; the boat states 1.5 mm")
    for form in forms:
        gone, inner, end = [], [], []
        for seed in range(min(seeds, 3)):
            take = take_off(form, seed, sigma_mm=0.0, withheld=(6, 11, 17))
            off = np.abs(lines(fair(take.marks, BOAT), take).off)
            gone.append(off[[6, 11, 17]])
            inner.append(off[[k for k in range(1, 24) if k not in (6, 11, 17)]])
            end.append(off[[0, 24]])
        bar = 0.2 if form.name == "wigley" else None
        bars.line(f"{form.name}: withheld, largest mm", bar, float(np.max(gone)))
        bars.line("… measured inner frames, largest mm", bar, float(np.max(inner)))
        bars.line("… first and last frame, largest mm", bar, float(np.max(end)))
        bars.line("… all, rms mm", None, rms(np.concatenate([*gone, *inner, *end])), n=3)


def speed(bars: Bars) -> None:
    two, one = cost.hull_times(FORMS, 3), cost.on_one_core(FORMS[1:2], 2)
    for form, times in two.items():
        bars.head(f"{form}, 60 x 20 marks, 2 % blunders: time, cores: {os.cpu_count()}")
        rbf = times["RBF"].wall
        bars.line("full re-fair, s", 1.0, times["fair"].wall)
        told = f"CPU {times['fair'].cpu:.2f} s" + (
            f", on one core {one[form]['fair'].wall:.2f} s" if form in one else ""
        )
        bars.line(f"… over one RBF thin-plate fit and evaluation ({rbf:.3f} s); {told}", None, times["fair"].wall / rbf)
        for job in ("moved 3 mm", "moved 100 mm", "heel moved"):
            bars.line(f"re-fair, {job}, s", 0.15, times[job].wall, n=3)
            told = f"CPU {times[job].cpu:.3f} s" + (f", on one core {one[form][job].wall:.3f} s" if form in one else "")
            bars.line(f"… over the same; {told}", None, times[job].wall / rbf)


def memory(bars: Bars) -> None:
    bars.head("memory, 60 x 20 marks")
    used = cost.memory_mb()
    bars.line("one fairing, its own, MB", 500, used["its own"], n=0)
    bars.line("whole process with scipy, MB", 500, used["whole process"], n=0)


def batten(bars: Bars) -> None:
    bars.head("a batten of 40 marks over one make_smoothing_spline at fixed smoothing")
    times = cost.batten_times()
    (_, base), *own = times.items()
    bars.line("the spline, ms", None, 1e3 * base.wall)
    for number, (name, took) in enumerate(own):
        bars.line(f"{name} ({1e3 * took.wall:.2f} ms)", 2 if number == 0 else None, took.wall / base.wall)


def where(by_form: dict[str, list[Trial]]) -> None:
    """Where the errors lie: by frame, by share of the girth, and the worst places with their mean (bias) and spread."""
    for name, trials in by_form.items():
        off = np.stack([t.lines.off for t in trials])  # (seeds, stations, points)
        sd = np.stack([t.lines.sd for t in trials])
        girth = [slice(k * POINTS_A_BIN, (k + 1) * POINTS_A_BIN) for k in range(20)]
        print(f"\n## {name}: where the errors lie ({len(trials)} seeds; girth in twentieths)\n")
        print("by frame, rms mm:", " ".join(f"{k}:{rms(off[:, k]):.1f}" for k in range(off.shape[1])))
        print("by girth, rms mm:", " ".join(f"{k / 20:.2f}:{rms(off[:, 1:-1, g]):.1f}" for k, g in enumerate(girth)))
        cells = [(rms(off[:, k, g]), k, i, g) for k in range(off.shape[1]) for i, g in enumerate(girth)]
        print("| frame | girth share | rms | mean (bias) | largest | stated sd | within 2 sd % |")
        print("|---|---|---|---|---|---|---|")
        for size, k, i, g in sorted(cells, key=lambda cell: -cell[0])[:12]:
            here = off[:, k, g]
            inside = 100 * np.mean(np.abs(here) < 2 * sd[:, k, g])
            place = f"{k}{' (withheld)' if k in trials[0].withheld else ''} | {i / 20:.2f}–{(i + 1) / 20:.2f}"
            most = here.flat[np.abs(here).argmax()]
            print(
                f"| {place} | {size:.2f} | {here.mean():+.2f} | {most:+.1f} | {rms(sd[:, k, g]):.2f} | {inside:.0f} |"
            )
        # split all error into what stays from seed to seed (smoothed away) and what comes and goes (noise let through)
        inner = off[:, 1:-1]
        bias = inner.mean(axis=0)
        part = (bias**2 - inner.var(axis=0, ddof=1) / len(trials)).mean() if len(trials) > 1 else np.nan
        print(f"inner frames: rms {rms(inner):.2f} = smoothed away {max(part, 0) ** 0.5:.2f} and noise let through "
              f"{inner.var(axis=0, ddof=1).mean() ** 0.5:.2f}; error scale learnt "
              f"{np.mean([t.error_scale for t in trials]):.2f}; log stiffness less the usual, along and round: "
              f"{np.mean([t.stiffness for t in trials], axis=0).round(1).tolist()}")  # fmt: skip


POINTS_A_BIN = 10


def sizes(forms: Sequence[Form], seeds: int, run: Callable) -> None:
    """Hulls of other sizes, without opponents and without bars: 1.5 mm, 2 % blunders."""
    print("\n## Sizes: 1.5 mm, 2 % blunders, stations uneven\n")
    heads = ["hull", "form", "withheld rms", "worst", "inner measured rms", "worst", "ends rms", "in 2 sd %", "named"]
    print("| " + " | ".join([*heads, "false %", "CPU s"]) + " |\n|" + "---|" * (len(heads) + 2))
    for label, (scale, frames, marks, uneven, withheld) in SIZES.items():
        some = min(seeds, 2) if frames > 30 else seeds
        made = partial(
            trial, withheld=withheld, opponents=False, frames=frames, marks=marks, scale=scale, uneven=uneven
        )
        done = run(made, [(form, seed) for form in forms for seed in range(some)])
        for i, form in enumerate(forms):
            own = done[i * some : (i + 1) * some]
            inner, end = of_all(own, lambda t: t.inner), of_all(own, lambda t: t.ends)
            every = of_all(own, lambda t: range(len(t.take.stations)))
            gone = of_all(own, lambda t: t.withheld).off
            cells = [
                f"{rms(gone):.2f} | {np.abs(gone).max():.1f}" if gone.size else "– | –",
                f"{rms(inner.off):.2f} | {np.abs(inner.off).max():.1f} | {rms(end.off):.2f}",
                f"{100 * every.inside.mean():.0f} | {sum(t.named for t in own)} of {sum(t.planted for t in own)}",
                f"{100 * sum(t.false for t in own) / sum(t.good for t in own):.1f}",
                f"{np.mean([t.seconds for t in own]):.1f}",
            ]
            print(f"| {label} | {form.name} | " + " | ".join(cells) + " |", flush=True)


def _call(job: Callable, arguments: tuple) -> object:
    return job(*arguments)


def main() -> None:
    ask = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    ask.add_argument("--seeds", type=int, default=6)
    ask.add_argument("--only", default=",".join(PARTS), help=f"parts, with commas between: {', '.join(PARTS)}")
    ask.add_argument("--forms", choices=["three", "more", "all"], default="three")
    ask.add_argument("--sizes", action="store_true", help="hulls from 5 m with 6 frames to 45 m with 80, instead")
    ask.add_argument("--where", action="store_true", help="also where in the hull the errors lie")
    ask.add_argument("--jobs", type=int, default=min(2, os.cpu_count() or 1), help="processes at once")
    asked = ask.parse_args()
    parts = asked.only.split(",")
    if unknown := set(parts) - set(PARTS):
        ask.error(f"no such part: {', '.join(sorted(unknown))}; give some of {', '.join(PARTS)}")
    forms = {"three": FORMS, "more": MORE, "all": FORMS + MORE}[asked.forms]
    began, bars = time.perf_counter(), Bars()
    if "speed" in parts and not asked.sizes:  # first, while nothing else runs
        speed(bars)
    if "batten" in parts and not asked.sizes:
        batten(bars)
    with ProcessPoolExecutor(asked.jobs) as pool:

        def run(job: Callable, arguments: Sequence[tuple]) -> list:
            return list(pool.map(_call, [job] * len(arguments), arguments))

        if asked.sizes:
            sizes(forms, asked.seeds, run)
            return
        if "accuracy" in parts:
            by_form = accuracy(forms, asked.seeds, bars, run)
            if asked.where:
                where(by_form)
        if "next" in parts:
            next_to_end(forms, asked.seeds, bars, run)
        if "ends" in parts:
            ends(forms, asked.seeds, bars, run)
        if "invented" in parts:
            invented(asked.seeds, bars, run)
    if "exact" in parts:
        exact(forms, asked.seeds, bars)
    if "memory" in parts:
        memory(bars)
    print(f"\n{bars.count - len(bars.missed)} of {bars.count} bars met; {time.perf_counter() - began:.0f} s in all.")


if __name__ == "__main__":
    main()

"""A first run in ten steps, from taking marks off to a plank on a board; each done or not, as the boat itself tells."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from urllib.parse import urlencode

from scrieve import store
from scrieve.frames.jig.setting_kept import JigKept
from scrieve.sheets.figures import thickness
from scrieve.web.addresses import asked, frame_path, plank_path
from scrieve.web.boat.pages import FrameState, frame_states
from scrieve.web.views import View


@dataclass(frozen=True, slots=True)
class Step:
    """One step: what to do and why, where, whether it is done, and what the boat says of it."""

    name: str
    what: str
    path: str
    done: bool
    told: str


def _next(frames: Sequence[FrameState], done: Sequence[str], before: Sequence[str]) -> str:
    """The frame on which a step is done next: one that has had the step before it and not this one, else the first."""
    open_ = [label for label in before if label not in done]
    designed = [frame.label for frame in frames if frame.designed]
    return next(iter([*open_, *done, *designed]), "")


def steps(view: View) -> tuple[Step, ...]:
    """Return the ten steps of this boat."""
    engine, kept, hull = view.file.engine, view.kept, view.hull
    frames = frame_states(kept, hull)
    marked = {mark.frame for mark in kept.marks}
    suspects = len(hull.suspects) if hull else 0
    records = store.records(engine)
    of = {kind: list(dict.fromkeys(r.member for r in records if r.kind == kind))
          for kind in ("jig proved", "glue-up", "release")}  # fmt: skip
    jig = JigKept.of(store.choices(engine, "jig"))
    designed = [frame.label for frame in frames if frame.designed]
    worst = next((off.frame for off in hull.suspects), "") if hull else ""
    first = next((frame.label for frame in frames if frame.suspects), worst)
    shape = next(iter(designed), next((f.label for f in frames if f.marks), ""))
    boards, laid = store.choices(engine, "board"), store.choices(engine, "layout")
    planks = list(kept.planks)

    def at(page: str, done: Sequence[str], before: Sequence[str]) -> str:
        label = _next(frames, done, before)
        return asked(page, frame=label) if label else page

    def many(number: int, one: str) -> str:
        return f"{number} {one}{'' if number == 1 else 's'}" if number else "none yet"

    return (
        Step(
            "Say what boat she is",
            "Face and thickness of the planking, units, error of a mark: they hold for every figure after this.",
            "/settings",
            bool(kept.boat.thickness_mm or kept.boat.half_beam_mm),
            f"planking {thickness(kept.boat.thickness_mm, kept.boat.units)}, marks to the {kept.boat.planking} of it"
            if kept.boat.thickness_mm
            else f"marks to the {kept.boat.planking} of the planking; its thickness is not given yet",
        ),
        Step(
            "Take marks off",
            "Type what was read, frame by frame. Rows that are likely slips are told at once: try one, "
            "with two figures of a height changed about.",
            "/marks/new",
            len(marked) >= 4,
            f"{many(len(kept.marks), 'mark')} on {many(len(marked), 'frame')}" if marked else "none yet",
        ),
        Step(
            "Look at the fair hull",
            "Body plan with what each mark lies off the line. Make the departures 20 times "
            "larger and look along a diagonal.",
            "/fairing?times=20",
            hull is not None,
            "faired" if hull else "not faired yet: four frames with three marks each are the least",
        ),
        Step(
            "Answer the suspects",
            "Each speaks against all the others. Measure it again on the hull, keep it, or drop it; "
            "drag one to see what the line would do.",
            f"/fairing?{urlencode({'show': 'frame', 'frame': first})}" if first else "/fairing",
            hull is not None and not suspects,
            f"{many(suspects, 'suspect')} to be answered" if suspects else "none left" if hull else "no hull yet",
        ),
        Step(
            "Design a frame",
            "Timber, sided, moulded: laminations, springback, bevels and checks follow as you type. "
            "Open any figure to see what it was reckoned from.",
            frame_path(shape) if shape else "/frames",
            bool(designed),
            f"{many(len(designed), 'frame')} designed" if designed else "none yet",
        ),
        Step(
            "Set it on the jig",
            "Describe the bed once; then one bracket at a time in large figures, ticked as it stands, "
            "and the tape checks at the end.",
            at("/jig", of["jig proved"], designed),
            bool(of["jig proved"]),
            "proved by tape: " + ", ".join(of["jig proved"])
            if of["jig proved"]
            else f"being set for frame {jig.bench.frame}"
            if jig.bench.frame
            else "not set yet",
        ),
        Step(
            "Glue it up",
            "Type the day's air; read the card aloud, have a dry run, sign the stops. Then say that it is in "
            "the clamps.",
            at("/glue-up", of["glue-up"], designed),
            bool(of["glue-up"]),
            many(len(of["glue-up"]), "frame") + (" glued" if of["glue-up"] else ""),
        ),
        Step(
            "Measure it off the jig",
            "Type how far it stands off its line. The page says whether it will do, and the next "
            "jig is bent by what this one has taught.",
            at("/release", of["release"], of["glue-up"]),
            bool(of["release"]),
            many(len(of["release"]), "frame") + (" measured" if of["release"] else ""),
        ),
        Step(
            "Draw a plank",
            "Line off a side and make a plank of a strake, or send the marks of a spiling batten: flat "
            "outline, bevels, backing out, board.",
            plank_path(planks[0]) if planks else "/planks/lining",
            bool(planks),
            many(len(planks), "plank"),
        ),
        Step(
            "Lay it on a board",
            "Put the boards of your rack in, have all planks laid on them, and print the cutting list and the sheets.",
            "/timber",
            "laying" in laid or any("placements" in each for each in laid.values()),
            f"{many(len(boards), 'board')} in the rack",
        ),
    )

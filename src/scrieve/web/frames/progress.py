"""How far each frame is, from not designed to fitted, by what was kept; what was done under an older design."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace

from scrieve import store
from scrieve.frames.jig.setting_kept import JigKept
from scrieve.frames.release.kept import learnt_springs
from scrieve.store import Record
from scrieve.web.addresses import asked, frame_path
from scrieve.web.boat.member_states import FrameState
from scrieve.web.glue_up.curing import curing_of, hour_told
from scrieve.web.views import View

#: The steps of a frame in their order, and the page on which each is done ('' the frame's own).
STEPS: tuple[tuple[str, str], ...] = (
    ("designed", ""),
    ("on the jig", "/jig"),
    ("glued", "/glue-up"),
    ("released", "/release"),
    ("ripped", "/release"),
    ("fitted", "/release"),
)
_NAMES = tuple(name for name, _ in STEPS)


@dataclass(frozen=True, slots=True)
class Progress:
    """One frame: the last step done, words on it, steps done in all, and where the next is done.

    `stale` says what was done under a design that has changed since; empty where nothing was.
    """

    label: str
    step: str
    words: str
    done: int
    next: str
    path: str
    stale: str = ""


def progress(view: View, frames: Sequence[FrameState]) -> list[Progress]:
    """Return how far each frame is, in the order given."""
    engine = view.file.engine
    records: dict[str, list[Record]] = defaultdict(list)
    for record in store.records(engine):
        records[record.member].append(record)
    jig = JigKept.of(store.choices(engine, "jig"))
    on_jig = jig.bench.frame
    return [_of(view, frame, records[frame.label], on_jig) for frame in frames]


def _of(view: View, frame: FrameState, records: Sequence[Record], on_jig: str) -> Progress:
    label = frame.label
    if not frame.designed:
        return Progress(label, "not designed", "", 0, "design it", frame_path(label))
    glued = next((record for record in reversed(records) if record.kind == "glue-up"), None)
    since = [record for record in records if glued is None or record.number > glued.number]
    last = {record.kind: record for record in since}
    measured = [record for record in since if record.kind == "release"]  # of a pair made again, the new one only
    ripped = [record for record in measured if record.detail.get("when") == "after ripping"]
    proved = last.get("jig proved")
    step, words = "designed", ""
    if proved:
        step, words = "on the jig", f"proved with the tape {proved.at[:10]}"
    elif on_jig == label:
        step, words = "on the jig", "being set"
    if glued:
        curing = curing_of(view.file.engine, label)
        step, words = "glued", f"{glued.at[:10]}"
        if curing and not measured:
            words = f"clamps off at the earliest {hour_told(curing.off)}"
    if measured:
        step, words = "released", f"measured {measured[-1].at[:10]}"
    if ripped:
        step, words = "ripped", f"measured {ripped[-1].at[:10]}"
    if fitted := last.get("fitted"):
        hand = {"P": ", port half", "S": ", starboard half"}.get(fitted.detail.get("hand", ""), "")
        step, words = "fitted", fitted.at[:10] + hand
    at = _NAMES.index(step)
    name, page = STEPS[min(at + 1, len(STEPS) - 1)]
    path = asked(page, frame=label) if page else frame_path(label)
    todo = {"on the jig": "set the jig", "glued": "glue it up", "released": "measure it off the jig"}
    after = {"ripped": "rip it, measure again", "fitted": "fit it"}
    following = "" if step == "fitted" else {**todo, **after}[name]
    return Progress(label, step, words, at + 1, following, path, _stale(view, label, glued or proved))


def _stale(view: View, label: str, done: Record | None) -> str:
    """Whether the design has changed since the frame was glued, or else since the jig was proved for it.

    What releases have taught since changes no frame that is glued; it does change how the jig is to be set.
    """
    if done is None or not done.detail.get("revision"):
        return ""
    if done.kind == "jig proved":
        if view.kept.frame_revision(label) == done.detail["revision"]:
            return ""
        return "the design, or what releases have taught, has changed since the jig was proved: set and prove it again"
    before = [record.detail for record in store.records(view.file.engine, "release") if record.number < done.number]
    then = replace(view.kept, springs=learnt_springs(before)).frame_revision(label)
    if then == done.detail["revision"]:
        return ""
    return "the marks, or what was chosen, have changed since it was glued: the sheets now are for another frame"

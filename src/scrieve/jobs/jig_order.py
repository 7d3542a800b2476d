"""The order of a set of frames on the jig, as a job; it is kept with the boat when the builder says so."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy import Engine

from scrieve.chain import Kept
from scrieve.errors import BadJig
from scrieve.frames.jig.bed import JigBed
from scrieve.frames.jig.poses import FrameToSet, plan_settings
from scrieve.frames.jig.setting import JigSetting
from scrieve.frames.jig.setting_kept import PlanKept
from scrieve.frames.packet.designed import bent_of
from scrieve.jobs.designs import Stopped, boat_as_stored, designing
from scrieve.jobs.kinds import Kind, Tick
from scrieve.jobs.plain import plain, read


def asked(frames: Mapping[str, str], bed: JigBed, present: JigSetting | None, after: Mapping[str, tuple[str, ...]],
          keep_order: bool) -> dict[str, Any]:  # fmt: skip
    """Return what the job is given: frames as numbered, each with the revision of its design, and the settings."""
    given = {"frames": dict(frames), "bed": bed, "present": present, "after": dict(after), "keep_order": keep_order}
    found: dict[str, Any] = plain(given)
    return found


def gather(engine: Engine, what: Mapping[str, Any]) -> Mapping[str, Any]:
    """Add the boat, which the frames are designed from."""
    return {**what, "boat": boat_as_stored(engine)}


def work_out(given: Mapping[str, Any], tick: Tick) -> Any:
    """Design the frames, pose and order them; return the order as it is kept."""
    asked_for: dict[str, Any] = read({name: value for name, value in given.items() if name != "boat"})
    kept: Kept = read(given["boat"])
    labels = list(asked_for["frames"])
    design, frames = designing(kept, tick), []
    for n, label in enumerate(labels):
        if not tick("designing the frames", 0.1 + 0.1 * n / len(labels), None):
            raise Stopped("stopped before the frames were designed; nothing was worked out.")
        if kept.frame_revision(label) != asked_for["frames"][label]:
            raise BadJig(f"frame {label} has changed since the order was asked for; work it out anew.")
        found = design(label)[0]
        frames.append(FrameToSet(bent_of(found), found.choice, after=asked_for["after"].get(label, ())))

    share, best = 0.2, None

    def told(done: int, total: int, minutes: float) -> None:
        nonlocal share, best
        share, best = 0.2 + 0.8 * done / max(total, 1), plain(minutes)

    def stop() -> bool:
        return not tick("trying poses and orders", share, best)

    plan = plan_settings(frames, asked_for["bed"], asked_for["present"], keep_order=asked_for["keep_order"],
                         progress=told, stop=stop)  # fmt: skip
    return plain(PlanKept.of(plan, asked_for["frames"]).to_mapping())


KIND = Kind(f"{__name__}:work_out", gather=gather)

"""The hull keeps its shape: what may be open at once, and what must stand before a member comes out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from itertools import combinations, pairwise
from typing import Generic, TypeVar

from scrieve.workplan.members import Job, Member
from scrieve.workplan.yard import HullRules

T = TypeVar("T", int, float, datetime)

#: Said wherever a member comes out.
CAUTION = (
    "Remove nothing before the support beside it stands and the hull has been looked at. Weight stays on the keel, on "
    "wide timbers; stands only steady her. More than two neighbouring frames, a centreline timber, several planks off "
    "on one side, or a hull that has moved: stop, and ask a surveyor or naval architect."
)
SOURCE = "Common practice, no source: the yard's own rule; a surveyor's comes first"


@dataclass(frozen=True, slots=True)
class Pair:
    """Two frame pairs and what lies between: `between` may be renewed meanwhile, `sound` never come out; at `least` so
    many of `between` must have been renewed before both may be out (None: never both)."""

    one: str
    other: str
    between: tuple[str, ...]
    sound: int
    least: int | None


def frame_pairs(job: Job, rules: HullRules) -> tuple[Pair, ...]:
    """Every two frame pairs that may not simply be out at once, by the rule."""
    frames = [member for member in job.frames if not job.is_renewed(member)]
    place = {label: n for n, label in enumerate(job.hull_frames)}
    waiting = {member.name for member in frames}
    found = []
    for n, one in enumerate(frames):
        for other in frames[n + 1 :]:
            labels = job.hull_frames[place[one.name] + 1 : place[other.name]]
            if len(labels) < rules.sound_between:
                found.append(Pair(one.key, other.key, (), 0, None))
                continue
            old = tuple(label for label in labels if label in waiting)
            sound = len(labels) - (0 if rules.old_counts else len(old))
            if rules.old_counts:
                # those that wait count, unless they are out themselves; being out they clash with both already
                continue
            if sound < rules.sound_between:
                between = tuple(f"frame {label}" for label in old)
                found.append(Pair(one.key, other.key, between, sound, rules.sound_between - sound))
    return tuple(found)


def plank_clash(one: Member, other: Member, rules: HullRules) -> bool:
    """Whether two planks may never be off at once."""
    if one.side and other.side and one.side != other.side:
        return False
    if one.strake is None or other.strake is None:
        return True
    return abs(one.strake - other.strake) - 1 < rules.strakes_between


@dataclass(frozen=True, slots=True)
class Open(Generic[T]):
    """A member's time of being open: from the first blow to the signature after the last fastening."""

    begins: T
    ends: T


def breaches(job: Job, opens: Mapping[str, Open[T]], rules: HullRules) -> tuple[str, ...]:
    """Every breach of the rule by members open so; told moment by moment, from the hull as it stands then.

    Knows nothing of how a plan is made: at every moment at which something comes out, it looks along the hull at what
    is out, what is sound and what waits.

    Parameters
    ----------
    job : Job
    opens : mapping of member key -> Open
        In any kind of time that can be compared.
    rules : HullRules
    """
    said = []
    renew = {member.name: member for member in job.frames}
    for key, mine in opens.items():
        now = mine.begins
        member = job.member(key)
        out = {k for k, o in opens.items() if o.begins <= now and now < o.ends}
        if member.kind == "frame":
            state = []
            for label in job.hull_frames:
                one = renew.get(label)
                if one is None or job.is_renewed(one):
                    state.append("sound")
                elif one.key in out:
                    state.append("out")
                elif one.key in opens and opens[one.key].ends <= now:
                    state.append("sound")
                else:
                    state.append("sound" if rules.old_counts else "waits")
            at = [n for n, what in enumerate(state) if what == "out"]
            for a, b in pairwise(at):
                sound = state[a + 1 : b].count("sound")
                if sound < rules.sound_between:
                    said.append(
                        f"frames {job.hull_frames[a]} and {job.hull_frames[b]} are out at once ({now}) with {sound} "
                        f"sound between; {rules.sound_between} are wanted"
                    )
            if len(at) > rules.frames_out:
                said.append(f"{len(at)} frames are out at once ({now}); {rules.frames_out} may be")
        else:
            off = [job.member(k) for k in out if k.startswith("plank ")]
            for side in ("P", "S"):
                here = [one for one in off if one.side in (side, "")]
                if len(here) > rules.planks_off:
                    said.append(f"{len(here)} planks are off at once ({now}) on side {side}; {rules.planks_off} may be")
                said += [
                    f"{one.key} and {other.key} are off at once ({now})"
                    for one, other in combinations(here, 2)
                    if plank_clash(one, other, rules)
                ]
    return tuple(dict.fromkeys(said))


def shoring(job: Job, member: Member, rules: HullRules) -> tuple[str, ...]:
    """What must stand before a member comes out, in the order of doing it. Common practice, no source."""
    if member.kind == "plank":
        side = {"P": "port", "S": "starboard", "": "both sides"}[member.side]
        over = f"frames {member.frames[0]} to {member.frames[-1]}" if len(member.frames) > 1 else "its frames"
        return (
            f"Shores under the turn of the bilge, {side}, at both ends of the plank and two bays apart at the most.",
            f"Ribband or batten outside over {over}, held to every frame, above or below the strake.",
            "Measure keel, sheer and a diagonal each way; write them down, to be looked at again once she is closed.",
            f"Look that {rules.strakes_between} strakes stay on either side of the opening.",
        )
    place = job.hull_frames.index(member.name)
    fore = job.hull_frames[max(place - rules.sound_between, 0) : place]
    aft = job.hull_frames[place + 1 : place + 1 + rules.sound_between]
    beside = ", ".join((*fore, *aft)) or "none"
    near = " and ".join((*fore[-1:], *aft[:1])) or "next to it"
    return (
        f"Cross-spall at the sheer, and one at the bilge, at frames {near}; none is moved while the pair is out.",
        f"Shores port and starboard under the bilge at frames {near}, plywood under each foot.",
        f"Ribbands outside at bilge and topside across frame {member.name}, held at {beside}.",
        "Keel, sheer and half-breadths at the spalls measured and written down; level and plumb looked at.",
        f"Frames that must stay in meanwhile: {beside}.",
    )

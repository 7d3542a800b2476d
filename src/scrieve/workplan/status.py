"""What has been done, read from the records of the yard: begun, finished, signed; and what each thing waits for."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

from scrieve.errors import BadPlan
from scrieve.workplan.kinds import FRAME, WAITS, Kind, kind_of, links
from scrieve.workplan.members import Did, ever_set, on_jigs
from scrieve.workplan.work import Work, who
from scrieve.workplan.yard import Yard

#: Kind of record under which work is kept; its member is the member's key.
RECORD = "work"
What = Literal["begun", "finished", "signed", "undone"]


def detail_of(op: str, what: What, at: datetime, people: Sequence[str], *, jig: int = 0, minutes: float | None = None,
              note: str = "") -> dict[str, Any]:  # fmt: skip
    """What is kept of one act, fit for JSON."""
    return {"op": op, "what": what, "at": at.isoformat(timespec="minutes"), "people": list(people), "jig": jig,
            "minutes": minutes, "note": note}  # fmt: skip


def done_of(details: Iterable[Mapping[str, Any]]) -> dict[str, Did]:
    """What stands of each operation after acts, oldest first, as `detail_of` gives them.

    Raises
    ------
    BadPlan
        One cannot be read.
    """
    found: dict[str, Did] = {}
    for detail in details:
        try:
            op, what = str(detail["op"]), str(detail["what"])
            at = datetime.fromisoformat(str(detail["at"]))
            people = tuple(str(name) for name in detail.get("people", ()))
        except (KeyError, ValueError) as error:
            raise BadPlan(f"a record of work cannot be read ({error!r}).") from error
        before = found.get(op)
        if what == "undone":
            found.pop(op, None)
        elif what == "begun":
            found[op] = Did(at, None, people, int(detail.get("jig") or 0))
        else:
            started = before.started if before else at
            jig = int(detail.get("jig") or 0) or (before.jig if before else 0)
            minutes = detail.get("minutes")
            found[op] = Did(min(started, at), at, people or (before.people if before else ()), jig,
                            None if minutes is None else float(minutes))  # fmt: skip
    return found


@dataclass(frozen=True, slots=True)
class Seen:
    """What the bench recorded of a frame: 'glue' (it is in the clamps) or 'release' (measured off the jig)."""

    label: str
    key: Literal["glue", "release"]
    at: datetime


def with_seen(done: Mapping[str, Did], seen: Iterable[Seen], undone: Mapping[str, datetime], jigs: int
              ) -> dict[str, Did]:  # fmt: skip
    """What stands done, with what must have been: whatever comes before a glue-up or a release that was recorded.

    A frame that is glued again is made again: what was done to the first is none of the second. One that was set on a
    jig and not glued is to be set anew once another has been put there.

    Parameters
    ----------
    done : mapping of operation -> Did
        As recorded with the plan; it goes before what is concluded here.
    seen : iterable of Seen
    undone : mapping of operation -> time
        When somebody last said that an operation is not so: what was seen before then tells nothing of it.
    jigs : int
        How many there are: a frame glued after as many others have been is on the jig of the first of them, which is
        off it by then, and still to be measured.
    """
    found = dict(done)
    row = [kind.key for kind in FRAME]

    def conclude(label: str, last: str, at: datetime, jig: int = 0) -> None:
        for key in row[: row.index(last) + 1]:
            op = f"frame {label}: {key}"
            did = found.get(op)
            if (did is None or did.finished is None) and undone.get(op, datetime.min) < at:
                begun = did.started if did else at
                found[op] = Did(min(begun, at), at, did.people if did else (), (did.jig if did else 0) or jig)

    before: dict[str, datetime] = {}
    for each in sorted(seen, key=lambda one: one.at):
        if each.key == "release":
            conclude(each.label, "release", each.at)
        else:
            if each.label in before:
                _made_again(found, each.label, before[each.label], each.at)
            on = {label: jig for label, jig in on_jigs(found, each.at).items() if label != each.label}
            free = [jig for jig in range(1, jigs + 1) if jig not in on.values()]
            first = on[min(on, key=lambda label: _put_at(found, label))] if on else 1
            conclude(each.label, "glue", each.at, free[0] if free else first)
        before[each.label] = each.at
    on = on_jigs(found)
    for label in ever_set(found):
        if label not in on and f"frame {label}: glue" not in found:
            for key in ("set", "dry"):
                found.pop(f"frame {label}: {key}", None)
    return found


def _made_again(done: dict[str, Did], label: str, before: datetime, at: datetime) -> None:
    """Forget what was done to the frame of that label that was glued before, as it is glued again."""
    row = [kind.key for kind in FRAME]
    for key in row[row.index("set") : row.index("shore")]:
        did = done.get(f"frame {label}: {key}")
        until = before if key in ("set", "dry") else at
        if did and (did.finished or did.started) <= until:
            del done[f"frame {label}: {key}"]


def _put_at(done: Mapping[str, Did], label: str) -> datetime:
    did = done.get(f"frame {label}: glue") or done[f"frame {label}: set"]
    return did.finished or did.started


@dataclass(frozen=True, slots=True)
class WaitsFor:
    """One thing that an operation waits for: the operation before it, a wait by the clock, or a signature."""

    op: str
    why: str
    until: datetime | None = None
    signature: bool = False


def waits_for(work: Work, op: str) -> tuple[WaitsFor, ...]:
    """Everything that stands before an operation now; empty where it may begin."""
    if op not in work.index:
        return ()
    n = work.index[op]
    member = work.job.member(work.ops[n].member)
    kind = work.ops[n].kind.key
    own = links(member.kind, work.yard.hull.ready_first, member.glued)
    waits = {member.op(first): WAITS[wait] for first, then, wait in own if then == kind and wait}
    found = []
    for link in work.links:
        if link.after == n:
            before = work.ops[link.before]
            why = f"{before.kind.words}, then {waits[before.name]}" if before.name in waits else before.kind.words
            found.append(WaitsFor(before.name, why, None, before.kind.hold))
    for first, then, wait in own:
        if then == kind and wait and work.job.finished(member.op(first)) and work.ops[n].earliest > 0:
            at = work.calendar.start_at(work.ops[n].earliest) if work.ops[n].earliest < work.calendar.ticks else None
            found.append(WaitsFor(member.op(first), WAITS[wait], at))
    if kind == "out":
        found += [
            WaitsFor(opening.member, f"{opening.member} is open", None)
            for opening in work.openings
            if opening.first is None and opening.member != member.key and _clash(work, opening.member, member.key)
        ]
    if kind == "set" and not work.job.running(op):
        held = [turn for turn in work.turns if turn.held]
        if len(held) >= work.yard.jigs:
            found += [WaitsFor(f"{turn.member}: release", f"frame {turn.label} is on the jig") for turn in held]
    return tuple(found)


def _clash(work: Work, one: str, other: str) -> bool:
    rules = work.yard.hull
    opened = [o.member for o in work.openings if o.first is None]
    alike = sum(key.split(" ")[0] == other.split(" ")[0] for key in opened)
    most = rules.frames_out if other.startswith("frame") else rules.planks_off
    if one.split(" ")[0] == other.split(" ")[0] and alike >= most:
        return True
    for pair in work.frame_pairs:
        if {pair.one, pair.other} == {one, other}:
            done = sum(work.job.is_renewed(work.job.member(key)) for key in pair.between)
            return pair.least is None or done < pair.least
    return {one, other} in [set(pair) for pair in work.plank_clashes]


def may(yard: Yard, work: Work, op: str, what: What, people: Sequence[str]) -> Kind:
    """Whether an act can be recorded; return the kind of operation.

    Raises
    ------
    BadPlan
        There is no such operation, it is done, something stands before it (a hold point not signed, the hull not
        closed), nobody of the names given may do it, or a hold point was not signed by a name.
    """
    member, _, key = op.rpartition(": ")
    found = work.job.member(member)
    if op not in found.ops:
        raise BadPlan(f"{op!r}: there is no such operation.")
    kind = kind_of(found.kind, key)
    named = [who(yard, name) for name in people]
    if what == "undone":
        if op not in work.job.done:
            raise BadPlan(f"{op}: nothing is recorded of it that could be undone.")
        return kind
    if op not in work.index:
        raise BadPlan(f"{op}: it is done already; undo that first if it is not so.")
    if before := waits_for(work, op):
        first = before[0]
        way = "have it signed" if first.signature else "finish that first"
        raise BadPlan(f"{op} waits for {first.op} ({first.why}): {way}.")
    if not named:
        raise BadPlan(f"{op}: no name; say who.")
    if kind.hold and what == "begun":
        raise BadPlan(f"{op} is a hold point: it is signed, not begun.")
    if kind.hold and not any(kind.skill in person.skills for person in named):
        raise BadPlan(f"{op}: {', '.join(people)} may not sign hold points; the yard's page says who may.")
    if what == "signed" and not kind.hold:
        raise BadPlan(f"{op} is no hold point; say begun or finished.")
    return kind

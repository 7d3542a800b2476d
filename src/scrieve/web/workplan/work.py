"""What the plan stands on, gathered from the boat: yard, members, records of work, setting times of the jig."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import pairwise
from statistics import median
from typing import Any, Literal

from sqlalchemy import Engine

from scrieve import store
from scrieve.chain import Kept
from scrieve.errors import BadPlan, ScrieveError
from scrieve.frames.design import FrameDesign
from scrieve.frames.jig.setting_kept import JigKept
from scrieve.jobs.setting_times import setting_times
from scrieve.jobs.work_plan import PLAN
from scrieve.planking import CaulkingChoice, FasteningChoice, PlankDesign, caulking, fastening_schedule
from scrieve.planking.fastening import FasteningSchedule, clinker_nails
from scrieve.revision import revision
from scrieve.store import Record
from scrieve.units import Units
from scrieve.web.glue_up.curing import KIND as CURING
from scrieve.web.people.signing import signed_by
from scrieve.web.people.who import who as asks
from scrieve.workplan.costs import USED, Costs, Parts, Piece, Prices, costs
from scrieve.workplan.kinds import Glued
from scrieve.workplan.members import Did, Job, Member, Reading, Setups
from scrieve.workplan.plan import Plan
from scrieve.workplan.status import RECORD, Seen, What, detail_of, done_of, may, with_seen
from scrieve.workplan.waits import HOTTEST_C
from scrieve.workplan.work import prepare
from scrieve.workplan.yard import Yard

#: Names under which the yard keeps its parts of the plan.
YARD, PRICES, STRAKES = "work yard", "work prices", "work strakes"
#: Thickness of laminations and clamps, where a frame cannot be designed yet.
_LAMINATION_MM, _CLAMPS = 8.0, 16
#: What the glue of a joint feels as it is closed, whose coldest is taken.
_FELT = ("air_c", "timber_c", "glue_c")
#: So far ahead the shop's days are laid out.
AHEAD_DAYS = 45

FrameOf = Callable[[str], tuple[FrameDesign, str]]
PlankOf = Callable[[str], PlankDesign]


def clock() -> datetime:
    """Local time of the shop."""
    return datetime.now()


def next_quarter(at: datetime) -> datetime:
    """The next whole quarter of an hour."""
    whole = at.replace(minute=at.minute // 15 * 15, second=0, microsecond=0)
    return whole if whole == at else whole + timedelta(minutes=15)


@dataclass(frozen=True)
class Stand:
    """All that a plan is made from, and the plan that is kept.

    `said` tells what could not be read off the boat, and what was taken instead. `set` is False until the yard has been
    settled.
    """

    yard: Yard
    job: Job
    plan: Plan | None
    set: bool
    made_from: str
    said: tuple[str, ...]
    strakes: Mapping[str, int]

    @property
    def stale(self) -> bool:
        """Whether the plan was made from something else."""
        return self.plan is not None and self.plan.made_from != self.made_from

    def late(self, now: datetime) -> tuple[str, ...]:
        """Operations that were to be finished and are not."""
        if self.plan is None:
            return ()
        return tuple(e.op for e in self.plan.entries if e.ends <= now and self.job.finished(e.op) is None)


def yard_of(engine: Engine) -> Yard:
    """The yard as it is kept, or as it is at first."""
    return Yard.from_mapping(store.choices(engine, "yard").get(YARD))


def keep_yard(engine: Engine, yard: Yard, *, key: str | None = None, who: str = "builder") -> None:
    """Keep the yard, whole."""
    store.keep_choice(engine, "yard", YARD, yard.to_mapping(), key=key, who=who)


def keep_plan(engine: Engine, plan: Plan | None, *, key: str | None = None, who: str = "builder") -> None:
    """Keep a plan, or forget the one that is kept."""
    store.keep_choice(engine, "yard", PLAN, None if plan is None else plan.to_mapping(), key=key, who=who)


def done(records: Sequence[Record], jigs: int = 1) -> dict[str, Did]:
    """What has been done: as recorded with the plan, and what a glue-up or a release recorded at the bench tells."""
    work = [each for each in records if each.kind == RECORD]
    undone = {str(each.detail.get("op")): _local(each.at) for each in work if each.detail.get("what") == "undone"}
    kinds: Mapping[str, Literal["glue", "release"]] = {"glue-up": "glue", "release": "release"}
    seen = [Seen(each.member, kinds[each.kind], _local(each.at)) for each in records if each.kind in kinds]
    return with_seen(done_of(record.detail for record in work), seen, undone, jigs)


def readings(records: Sequence[Record]) -> tuple[Reading, ...]:
    """Temperatures as they were read: of the shed, in the logbook and for glue-ups; at the glue line of each frame."""
    found: list[Reading] = []
    glued: dict[int, Record] = {}
    for each in records:
        at, said = _local(each.at), each.detail
        if isinstance(said.get("temperature_c"), (int, float)):
            found.append(Reading(at, float(said["temperature_c"])))
        elif each.kind == "glue-up" and isinstance(said.get("conditions"), Mapping):
            on = {name: float(c) for name, c in said["conditions"].items() if name in _FELT and c is not None}
            glued[each.number] = each
            found += [Reading(at, on["air_c"])] if "air_c" in on else []
            found += [Reading(at, min(on.values()), f"frame {each.member}")] if on else []
        elif each.kind == CURING and (of := glued.get(said.get("glue_up", 0))):
            at = _local(of.at) + timedelta(hours=float(said["hour"]))
            found.append(Reading(at, min(float(said["glue_c"]), HOTTEST_C), f"frame {each.member}"))
    return tuple(sorted(found, key=lambda one: one.at))


def _local(at: str) -> datetime:
    """A time of the store by the clock of the shop."""
    return datetime.fromisoformat(at).astimezone().replace(tzinfo=None, microsecond=0)


def prices(engine: Engine) -> Prices:
    """Prices as kept."""
    return Prices.from_mapping(store.choices(engine, "yard").get(PRICES))


def used(engine: Engine) -> dict[str, Parts]:
    """Material used, as recorded: by hand, and glue of each glue-up."""
    found: dict[str, list[tuple[str, float]]] = {}
    for record in store.records(engine, USED):
        at = f"recorded {record.at[:10]} by {record.who}"
        found.setdefault(str(record.detail.get("what", "")), []).append((at, float(record.detail.get("amount", 0.0))))
    for record in store.records(engine, "glue-up"):
        grams = record.detail.get("gross_g")
        if isinstance(grams, (int, float)):
            at = f"glue-up of frame {record.member}, {record.at[:10]}"
            found.setdefault("glue", []).append((at, float(grams) / 1000))
    return {what: tuple(parts) for what, parts in found.items()}


def add_work(
    engine: Engine,
    found: Stand,
    op: str,
    what: str,
    named: Sequence[str],
    *,
    pin: str = "",
    at: datetime | None = None,
    minutes: float | None = None,
    note: str = "",
    key: str | None = None,
    others: bool = True,
) -> int:
    """Record that an operation was begun, finished, signed or not so after all (undone); return the record's number.

    Parameters
    ----------
    named : sequence of str
        Who did it, beside those whom the plan has for it unless `others` is False; who signs is the first, or whoever
        asks.
    pin : str
        Of the one who signs.
    at : datetime, optional
        When; without, now.

    Raises
    ------
    BadPlan
        The plan does not allow it, or it lies ahead.
    ScrieveError
        The signature is not proved.
    """
    now = clock()
    at = at or now
    if at > now + timedelta(minutes=5):
        raise BadPlan(f"{op}: {at:%Y-%m-%d %H:%M} has not come yet.")
    if what not in ("begun", "finished", "signed", "undone"):
        raise BadPlan(f"found {what!r}; say begun, finished, signed or undone.")
    entry, did = found.plan.by_op.get(op) if found.plan else None, found.job.done.get(op)
    signed = ""
    if what == "signed":
        name, signed = signed_by(engine, named[0] if named else asks(), pin)
        people = [name, *named[1:]]
    elif named and not others:
        people = list(named)
    else:
        people = [*named, *(did.people if did else entry.people if entry else ())]
    people = list(dict.fromkeys(people))
    act: What = what  # type: ignore[assignment]
    may(found.yard, prepare(found.yard, found.job, now, AHEAD_DAYS), op, act, people)
    jig = _jig(found, op, entry.jig if entry else 0)
    detail = detail_of(op, act, at, people, jig=jig, minutes=minutes, note=note)
    if signed:
        detail["signed_by"] = signed
    return store.add_record(
        engine, RECORD, op.rpartition(": ")[0], detail, key=key, who=people[0] if people else asks()
    )


def _jig(found: Stand, op: str, planned: int) -> int:
    """The jig that an operation is done on: that which the frame is on, else that planned where it is free."""
    on = found.job.on_jigs
    member, _, key = op.rpartition(": ")
    if key != "set":
        return on.get(member.removeprefix("frame "), planned)
    free = [jig for jig in range(1, found.yard.jigs + 1) if jig not in on.values()]
    return planned if planned in free or not free else free[0]


def stand(engine: Engine, kept: Kept, frame: FrameOf, plank: PlankOf) -> Stand:
    """Gather everything, setting times of the jig apart, which take long (`setups`).

    Parameters
    ----------
    engine : Engine
    kept : Kept
    frame, plank : callable
        Design one member; what they raise is told in `said`.
    """
    choices = store.choices(engine, "yard")
    yard = Yard.from_mapping(choices.get(YARD))
    said: list[str] = []
    members = [_frame(label, frame, said) for label in kept.frames]
    strakes = {str(name): int(n) for name, n in choices.get(STRAKES, {}).items()}
    lined = _lined(engine)
    members += [_plank(name, plank, strakes.get(name, lined.get(name)), said) for name in kept.planks]
    records = store.records(engine)
    told = done(records, yard.jigs)
    job = Job(tuple(members), hull_frames(kept), told, readings=readings(records))
    sheets = {family: dict(each.get("own", {})) for family, each in store.choices(engine, "glue").items()}
    due = {key: day for key, day in yard.due.items() if any(m.key == key for m in members)}
    said += unknown_between(kept) if kept.frames else ()
    settled = replace(yard, sheets=sheets, due=due)
    plan = Plan.from_mapping(choices[PLAN]) if PLAN in choices else None
    made_from = revision(_lasting(settled), job.members, job.hull_frames)
    return Stand(settled, job, plan, YARD in choices, made_from, tuple(said), strakes)


def _lasting(yard: Yard) -> dict[str, Any]:
    """The yard without what only says how long to search."""
    return {name: value for name, value in yard.to_mapping().items() if name not in ("seconds", "calm_days")}


def hull_frames(kept: Kept) -> tuple[str, ...]:
    """Labels of all frames of the hull, from forward: those with marks, and those to be made."""
    return tuple(_stations(kept))


def unknown_between(kept: Kept) -> tuple[str, ...]:
    """Frames of the hull that stand so far apart that another may stand between them, of which nothing is known.

    Half as far again as frames of this hull mostly do: where one is left out it is twice as far.
    """
    known = [(label, at) for label, at in _stations(kept).items() if at < float("inf")]
    apart = [after - before for (_, before), (_, after) in pairwise(known)]
    if len(apart) < 4:
        return ()
    usual = median(apart)
    wide = [
        (one, other) for ((one, _), (other, _)), gap in zip(pairwise(known), apart, strict=True) if gap > 1.5 * usual
    ]
    if not wide:
        return ()
    places = ", ".join(f"{one} – {other}" for one, other in wide[:8]) + (", …" if len(wide) > 8 else "")
    return (
        f"between frames {places} the hull's frames stand further apart than elsewhere. A frame there that has no "
        "marks and is not to be made is not known here: it is neither counted as sound nor named among shores; look "
        "for it.",
    )


def _stations(kept: Kept) -> dict[str, float]:
    """Frames of the hull from forward, with their stations; inf where it is not known."""
    stations: dict[str, float] = {}
    for mark in kept.marks:
        stations.setdefault(mark.frame, mark.station_mm)
    for label, entry in kept.frames.items():
        if entry.get("station_mm") is not None:
            stations[label] = float(entry["station_mm"])
        stations.setdefault(label, float("inf"))
    return dict(sorted(stations.items(), key=lambda each: (each[1], each[0])))


def _frame(label: str, design: FrameOf, said: list[str]) -> Member:
    try:
        found = design(label)[0]
    except ScrieveError as error:
        said.append(
            f"frame {label}: {error} It is taken for laminations of {_LAMINATION_MM:g} mm and {_CLAMPS} clamps."
        )
        return Member("frame", label, _LAMINATION_MM, _CLAMPS)
    thick = max(order.sawn_thickness_mm for order in found.order)
    return Member("frame", label, round(thick, 1), found.closing.clamps, glue=found.choice.glue)


def _plank(name: str, design: PlankOf, strake: int | None, said: list[str]) -> Member:
    try:
        found = design(name)
    except ScrieveError as error:
        said.append(f"plank {name}: {error} Stock of 30 mm is taken for it.")
        return Member("plank", name, 30.0, strake=strake)
    labels = tuple(frame.label for frame in found.frames)
    thick = round(found.board.thickness_mm, 1)
    return Member("plank", name, thick, 0, found.side, strake, labels, glued=_glued(found))


def _glued(design: PlankDesign) -> tuple[Glued, ...]:
    """Where a plank has glued scarfs: sheets of a panel at the bench, ends that run on into a neighbour on the hull."""
    ends = getattr(design.choice, "ends", None)
    sheets = bool(design.joints) and getattr(design.choice, "sheet_joint", "") == "scarf"
    on_hull = ends is not None and "scarf" in (ends.first, ends.last)
    return (*(("bench",) if sheets else ()), *(("hull",) if on_hull else ()))


def _lined(engine: Engine) -> dict[str, int]:
    """Strakes of planks, from the lining and from names such as 'garboard' and 'strake 9'."""
    found: dict[str, int] = {}
    for name in store.planks(engine):
        if name.lower().startswith("garboard"):
            found[name] = 1
        elif match := re.match(r"strake (\d+)\b", name.lower()):
            found[name] = int(match[1])
    for side in store.choices(engine, "lining").values():
        for number, names in side.get("planks", {}).items():
            found |= dict.fromkeys(names, int(number))
    return found


def setups(engine: Engine, stand: Stand, frame: FrameOf, units: Units, told: Callable[[str], bool]) -> Setups | None:
    """Minutes to set the jig from each frame to each other, as `setting_times` has them.

    Parameters
    ----------
    told : callable
        Told what is being worked out; returns False to stop, with None.
    """
    kept = JigKept.of(store.choices(engine, "jig"))
    return setting_times(kept, [member.name for member in stand.job.frames], frame, units, told)


def materials(stand: Stand, frame: FrameOf, plank: PlankOf) -> tuple[tuple[Piece, ...], Parts]:
    """Timber as sawn and glue of all members; what cannot be designed is left out."""
    pieces: list[Piece] = []
    glue: list[tuple[str, float]] = []
    for member in stand.job.members:
        try:
            if member.kind == "frame":
                design = frame(member.name)[0]
                pieces += [Piece(o.timber, o.sawn_thickness_mm, o.sawn_width_mm, o.length_mm, o.count, member.key)
                           for o in design.order]  # fmt: skip
                glue.append((member.key, design.glue.gross_g / 1000))
            else:
                board = plank(member.name).board
                pieces.append(Piece("planking", board.thickness_mm, board.width_mm, board.length_mm, 1, member.key))
        except ScrieveError:
            continue
    return tuple(pieces), tuple(glue)


def shell_goods(engine: Engine, stand: Stand, plank: PlankOf) -> dict[str, Parts]:
    """Fastenings, cotton and stopping of all planks to be hung, chosen as the port side's lining has them."""
    chosen = _lining_choice(engine)
    found: dict[str, list[tuple[str, float]]] = {"fastenings": [], "cotton": [], "stopping": []}
    for n, member in enumerate(stand.job.planks, 1):
        try:
            design = plank(member.name)
            thick = {"thickness_mm": design.thickness_mm}
            if nails := land_nails(design):  # closed by nails along its land, never caulked
                found["fastenings"].append((member.key, nails))
                continue
            fastened = fastened_by(engine, design, n)
            seams = {"lower seam": design.lengths_mm[1], "upper seam": design.lengths_mm[3]}
            caulked = caulking(seams, CaulkingChoice.from_mapping({**chosen.get("caulking", {}), **thick}))
        except ScrieveError:
            continue
        found["fastenings"].append((member.key, fastened.order))
        found["cotton"].append((member.key, caulked.cotton_kg))
        found["stopping"].append((member.key, caulked.stopping_litres))
    return {what: tuple(parts) for what, parts in found.items()}


def _lining_choice(engine: Engine) -> Mapping[str, Any]:
    stored = store.choices(engine, "lining")
    return next((stored[hand] for hand in ("port", "pair", "starboard") if hand in stored), {})


def land_nails(design: PlankDesign) -> int:
    """Nails along the land of a clinker plank; 0 of any other."""
    if getattr(design.choice, "build", "carvel") != "clinker":
        return 0
    return clinker_nails(design.lengths_mm[3] or 0.0, design.thickness_mm)


def fastened_by(engine: Engine, design: PlankDesign, number: int = 1) -> FasteningSchedule:
    """Fastenings of one plank, chosen as the port side's lining has them; raises ScrieveError where there are none."""
    choice = {**_lining_choice(engine).get("fastening", {}), "thickness_mm": design.thickness_mm}
    crossings = {number: tuple((frame.label, frame.width_mm) for frame in design.frames)}
    return fastening_schedule(crossings, FasteningChoice.from_mapping(choice))


def all_goods(
    engine: Engine, stand: Stand, frame: FrameOf, plank: PlankOf
) -> tuple[tuple[Piece, ...], dict[str, Parts]]:
    """Pieces of timber of all members, and what each takes of everything else, fastenings and caulking too."""
    pieces, glue = materials(stand, frame, plank)
    return pieces, {"glue": glue} | shell_goods(engine, stand, plank)


def costs_of(engine: Engine, stand: Stand, pieces: tuple[Piece, ...], goods: Mapping[str, Parts], by: Prices) -> Costs:
    """What all members cost, planned and used so far, and what is to be ordered for them."""
    return costs(stand.yard, stand.plan, pieces, goods, by, stand.job.done, used(engine))


def checked_strakes(strakes: Mapping[str, int]) -> dict[str, int]:
    """Return which strake each plank is.

    Raises
    ------
    BadPlan
        There is no such strake.
    """
    for name, n in strakes.items():
        if not 1 <= n <= 60:
            raise BadPlan(f"strake of {name}: {n}; give 1 (the garboard) to 60.")
    return dict(strakes)

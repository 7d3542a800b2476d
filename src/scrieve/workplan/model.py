"""The yard's plan as a constraint model: hours, people, machines, jigs set one after the other, and a hull that holds.

Every variable counts ticks of shop hours. What runs by the clock comes in as a rising table from the tick at which one
operation ends to the first at which the next may begin.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np

from scrieve.workplan.calendar import TICK_MIN
from scrieve.workplan.first import Laid
from scrieve.workplan.waits import pieces
from scrieve.workplan.work import Work

#: Variables that follow from a plan, and how, so that a search can begin from it without working them out.
Follows = list[tuple[Any, Callable[..., int]]]


@dataclass
class Model:
    """The model and its variables: starts, lengths and ends by operation, who does it, and on which jig a turn is."""

    cp: Any
    work: Work
    horizon: int
    starts: list[Any]
    sizes: list[Any]
    ends: list[Any]
    does: list[dict[int, Any]]
    on: list[dict[int, Any]]
    opened: dict[str, Any]
    finish: Any
    used: list[Any]
    follows: Follows

    def hint(self, laid: Laid) -> None:
        """Begin the search from a plan that is known."""
        self.cp.clear_hints()
        told: dict[int, tuple[Any, int]] = {}  # one constant may stand for several variables: each is told once
        for n in range(len(self.starts)):
            told[self.starts[n].index] = self.starts[n], laid.starts[n]
            told[self.sizes[n].index] = self.sizes[n], laid.ticks[n]
            told[self.ends[n].index] = self.ends[n], laid.starts[n] + laid.ticks[n]
            told |= {literal.index: (literal, p in laid.people[n]) for p, literal in self.does[n].items()}
        for turn, jig in zip(self.on, laid.jigs, strict=True):
            told |= {literal.index: (literal, number == jig) for number, literal in turn.items()}
        told[self.finish.index] = self.finish, laid.length
        told |= {variable.index: (variable, int(value(laid))) for variable, value in self.follows}
        for variable, value in told.values():
            self.cp.add_hint(variable, value)

    def read(self, value: Callable[[Any], int]) -> Laid:
        """The plan that a search found."""
        return Laid(
            tuple(value(start) for start in self.starts),
            tuple(value(size) for size in self.sizes),
            tuple(tuple(p for p, literal in does.items() if value(literal)) for does in self.does),
            tuple(next(jig for jig, literal in turn.items() if value(literal)) for turn in self.on),
        )


def build(work: Work, horizon: int, fixed: Laid | None = None) -> Model:
    """Set out the model.

    Parameters
    ----------
    work : Work
    horizon : int
        Nothing ends after this tick.
    fixed : Laid, optional
        Running operations stand where they are in it.
    """
    from ortools.sat.python import cp_model

    cp = cp_model.CpModel()
    n_ops = len(work.ops)
    starts: list[Any] = []
    sizes: list[Any] = []
    ends: list[Any] = []
    spans: list[Any] = []
    turn_of = {turn.first: turn for turn in work.turns if turn.first is not None}
    for n, op in enumerate(work.ops):
        if op.running and fixed is not None:
            start = cp.new_constant(fixed.starts[n])
        elif op.kind.one_go and not op.sets_jig:
            good = np.flatnonzero(work.calendar.whole(op.ticks)[: horizon - op.ticks + 1])
            good = good[good >= op.earliest]
            start = cp.new_int_var_from_domain(cp_model.Domain.from_values(good.tolist()), f"s {op.name}")
        else:
            start = cp.new_int_var(op.earliest, horizon - op.ticks if not op.sets_jig else horizon - 1, f"s {op.name}")
        if op.sets_jig:
            turn = turn_of[n]
            ways = {work.set_ticks(turn, other.label) for other in work.turns if other.member != turn.member}
            ways |= {work.set_ticks(turn, work.jig_stands(jig)) for jig in range(1, work.yard.jigs + 1)}
            ways |= {work.set_ticks(turn, None)}
            size = cp.new_int_var_from_domain(cp_model.Domain.from_values(sorted(ways)), f"d {op.name}")
        else:
            size = cp.new_constant(op.ticks)
        end = cp.new_int_var(0, horizon, f"e {op.name}")
        starts.append(start)
        sizes.append(size)
        ends.append(end)
        spans.append(cp.new_interval_var(start, size, end, f"i {op.name}"))
    follows: Follows = []
    _one_go_settings(cp, work, starts, sizes, horizon, follows)
    _links(cp, work, starts, ends, horizon, follows)
    does = _people(cp, work, starts, sizes, ends, spans, horizon)
    for name, count in work.yard.machines.items():
        using = [spans[n] for n, op in enumerate(work.ops) if op.kind.machine == name]
        if count == 1:
            cp.add_no_overlap(using)
        elif len(using) > count:
            cp.add_cumulative(using, [1] * len(using), count)
    on = _jigs(cp, work, starts, sizes, ends, horizon, follows)
    for one, other in work.tied:
        cp.add_linear_constraint(starts[one] - starts[other], -(work.apart_most or 0), work.apart_most or 0)
    opened = _hull(cp, work, starts, ends, horizon, follows)
    finish = cp.new_int_var(0, horizon, "finish")
    for n in range(n_ops):
        cp.add(finish >= ends[n])
    used = []
    for p in range(len(work.yard.people)):
        mine = [literal for does_n in does for person, literal in does_n.items() if person == p]
        any_of = cp.new_bool_var(f"used {p}")
        cp.add_max_equality(any_of, mine or [0])
        used.append(any_of)
        follows.append((any_of, lambda laid, p=p: any(p in people for people in laid.people)))
    return Model(cp, work, horizon, starts, sizes, ends, does, on, opened, finish, used, follows)


def _one_go_settings(cp: Any, work: Work, starts: Sequence[Any], sizes: Sequence[Any], horizon: int,
                     follows: Follows) -> None:  # fmt: skip
    """A jig is set in one go: a setting begun stays within one opening of the shop, whatever its length."""
    wall = work.calendar.wall_min[:horizon]
    breaks = np.flatnonzero(np.diff(wall) > TICK_MIN) + 1
    edges = [0, *breaks.tolist(), horizon]
    for n in (n for n, op in enumerate(work.ops) if op.sets_jig):
        session = cp.new_int_var(0, len(edges) - 2, f"session {n}")
        opens, closes = (cp.new_int_var(0, horizon, f"{name} {n}") for name in ("opens", "closes"))
        starts_of = np.array(edges)

        def place(laid: Laid, n: int = n, starts_of: Any = starts_of) -> int:
            return int(np.searchsorted(starts_of, laid.starts[n], side="right")) - 1

        follows.append((session, place))
        follows.append((opens, lambda laid, at=place: edges[at(laid)]))
        follows.append((closes, lambda laid, at=place: edges[at(laid) + 1]))
        cp.add_element(session, edges[:-1], opens)
        cp.add_element(session, edges[1:], closes)
        cp.add(starts[n] >= opens)
        cp.add(starts[n] + sizes[n] <= closes)


def _links(cp: Any, work: Work, starts: Sequence[Any], ends: Sequence[Any], horizon: int, follows: Follows) -> None:
    after_end: dict[tuple[int, int], Any] = {}

    def at_least(n: int, tick: int) -> Any:
        """Literal: operation n ends at this tick or later."""
        if (n, tick) not in after_end:
            literal = cp.new_bool_var(f"e{n} >= {tick}")
            cp.add(ends[n] >= tick).only_enforce_if(literal)
            cp.add(ends[n] < tick).only_enforce_if(~literal)
            after_end[n, tick] = literal
            follows.append((literal, lambda laid: laid.starts[n] + laid.ticks[n] >= tick))
        return after_end[n, tick]

    for link in work.links:
        cp.add(starts[link.after] >= ends[link.before])
        if link.ready is None:
            continue
        least = work.ops[link.before].earliest + work.ops[link.before].ticks
        table = np.minimum(link.ready[least : horizon + 1], horizon + 1)
        if not len(table):
            continue
        cp.add(starts[link.after] >= ends[link.before] + int((table - np.arange(least, least + len(table))).min()))
        for low, high, ready, rises in pieces(table.tolist()):
            first, last = least + low, least + high
            if ready > horizon:  # it would not be ready within the plan
                cp.add(ends[link.before] < first)
                break
            literal = at_least(link.before, first)
            if rises and high > low:
                later = at_least(link.before, last + 1) if last + 1 <= horizon else None
                guards = [literal] if later is None else [literal, ~later]
                cp.add(starts[link.after] >= ends[link.before] + (ready - first)).only_enforce_if(guards)
            cp.add(starts[link.after] >= ready).only_enforce_if(literal)


def _people(cp: Any, work: Work, starts: Sequence[Any], sizes: Sequence[Any], ends: Sequence[Any],
            spans: Sequence[Any], horizon: int) -> list[dict[int, Any]]:  # fmt: skip
    people = range(len(work.yard.people))
    does: list[dict[int, Any]] = []
    busy: list[list[Any]] = [[] for _ in people]
    for n, op in enumerate(work.ops):
        mine: dict[int, Any] = {}
        if op.by:
            for p in op.by:
                mine[p] = cp.new_constant(1)
                busy[p].append(spans[n])
        elif op.people == len(people):
            for p in people:
                mine[p] = cp.new_constant(1)
                busy[p].append(spans[n])
        else:
            who = op.skilled if op.people == 1 else tuple(people)
            for p in who:
                literal = cp.new_bool_var(f"{op.name} by {p}") if len(who) > op.people else cp.new_constant(1)
                mine[p] = literal
                busy[p].append(cp.new_optional_interval_var(starts[n], sizes[n], ends[n], literal, f"{op.name} {p}"))
            cp.add(sum(mine.values()) == op.people)
            cp.add_bool_or([mine[p] for p in op.skilled if p in mine])
        does.append(mine)
    away: list[list[Any]] = []
    for p in people:
        gone = np.flatnonzero(~work.there[p, :horizon])
        blocks = np.split(gone, np.flatnonzero(np.diff(gone) > 1) + 1) if len(gone) else []
        away.append([cp.new_fixed_size_interval_var(int(b[0]), len(b), f"off {p}") for b in blocks])
        cp.add_no_overlap([*busy[p], *away[p]])
    off = [span for row in away for span in row]
    cp.add_cumulative([*spans, *off], [*(op.people for op in work.ops), *([1] * len(off))], len(people))
    return does


def _jigs(cp: Any, work: Work, starts: Sequence[Any], sizes: Sequence[Any], ends: Sequence[Any],
          horizon: int, follows: Follows) -> list[dict[int, Any]]:  # fmt: skip
    turns = work.turns
    count = work.yard.jigs
    on: list[dict[int, Any]] = []
    for turn in turns:
        if turn.held:
            on.append({turn.held: cp.new_constant(1)})
        elif count == 1:
            on.append({1: cp.new_constant(1)})
        else:
            mine = {jig: cp.new_bool_var(f"{turn.label} on {jig}") for jig in range(1, count + 1)}
            cp.add_exactly_one(mine.values())
            on.append(mine)
    spans = []
    for turn in turns:
        length = cp.new_int_var(0, horizon, f"on jig {turn.label}")
        begin = cp.new_constant(0) if turn.first is None else starts[turn.first]
        follows.append((length, lambda laid, t=turn: _held(laid, t.first, t.last)))
        spans.append(cp.new_interval_var(begin, length, ends[turn.last], f"jig {turn.label}"))
    for jig in range(1, count + 1):
        here = [i for i in range(len(turns)) if jig in on[i]]
        if not here:
            continue
        if count == 1:
            cp.add_no_overlap([spans[i] for i in here])
        idle = cp.new_bool_var(f"jig {jig} idle")
        arcs: list[tuple[int, int, Any]] = [(0, 0, idle)]
        follows.append((idle, lambda laid, jig=jig: jig not in laid.jigs))
        for i in here:
            arcs.append((i + 1, i + 1, ~on[i][jig]))
            first = cp.new_bool_var(f"{turns[i].label} first on {jig}")
            arcs.append((0, i + 1, first))
            final = cp.new_bool_var(f"{turns[i].label} last on {jig}")
            arcs.append((i + 1, 0, final))
            follows.append((first, lambda laid, i=i, jig=jig: _row(work, laid, jig)[:1] == [i]))
            follows.append((final, lambda laid, i=i, jig=jig: _row(work, laid, jig)[-1:] == [i]))
            begin = turns[i].first
            if begin is not None:
                stands = work.jig_stands(jig)
                if stands is not None:  # somebody is on it now, and comes first
                    cp.add(first == 0)
                cp.add(sizes[begin] == work.set_ticks(turns[i], None)).only_enforce_if(first)
            for k in here:
                to = turns[k].first
                if k == i or to is None:
                    continue
                next_one = cp.new_bool_var(f"{turns[k].label} after {turns[i].label} on {jig}")
                arcs.append((i + 1, k + 1, next_one))
                follows.append((next_one, lambda laid, i=i, k=k, jig=jig: (i, k) in pairwise(_row(work, laid, jig))))
                cp.add(starts[to] >= ends[turns[i].last]).only_enforce_if(next_one)
                cp.add(sizes[to] == work.set_ticks(turns[k], turns[i].label)).only_enforce_if(next_one)
        cp.add_circuit(arcs)
    if count > 1:
        cp.add_cumulative(spans, [1] * len(spans), count)
        clamps = [turn.clamps for turn in turns]
        if sum(sorted(clamps)[-count:]) > work.yard.clamps:
            cp.add_cumulative(spans, clamps, work.yard.clamps)
    return on


def _row(work: Work, laid: Laid, jig: int) -> list[int]:
    """Numbers of the turns on one jig, in order."""
    mine = [i for i, number in enumerate(laid.jigs) if number == jig]
    return sorted(mine, key=lambda i: laid.starts[work.turns[i].last])


def _held(laid: Laid, first: int | None, last: int) -> int:
    """Ticks from the start of one operation (None: from now) to the end of another."""
    return laid.starts[last] + laid.ticks[last] - (0 if first is None else laid.starts[first])


def _hull(cp: Any, work: Work, starts: Sequence[Any], ends: Sequence[Any], horizon: int,
          follows: Follows) -> dict[str, Any]:  # fmt: skip
    rules = work.yard.hull
    begin: dict[str, Any] = {}
    end: dict[str, Any] = {}
    spans: dict[str, Any] = {}
    lengths: dict[str, Any] = {}
    now = {opening.member for opening in work.openings if opening.first is None}
    for opening in work.openings:
        key = opening.member
        begin[key] = cp.new_constant(0) if opening.first is None else starts[opening.first]
        end[key] = ends[opening.last]
        lengths[key] = cp.new_int_var(0, horizon, f"open {key}")
        spans[key] = cp.new_interval_var(begin[key], lengths[key], end[key], f"open {key}")
        follows.append((lengths[key], lambda laid, o=opening: _held(laid, o.first, o.last)))
    of = {opening.member: opening for opening in work.openings}

    def opened_at(laid: Laid, key: str) -> int:
        first = of[key].first
        return 0 if first is None else laid.starts[first]

    def closed_at(laid: Laid, key: str) -> int:
        return laid.starts[of[key].last] + laid.ticks[of[key].last]

    before: dict[tuple[str, str], Any] = {}

    def closed_before(one: str, other: str) -> Any:
        """Literal: one is closed again before the other is opened."""
        if (one, other) not in before:
            literal = cp.new_bool_var(f"{one} before {other}")
            cp.add(end[one] <= begin[other]).only_enforce_if(literal)
            before[one, other] = literal
            follows.append((literal, lambda laid: closed_at(laid, one) <= opened_at(laid, other)))
        return before[one, other]

    for pair in work.frame_pairs:
        if {pair.one, pair.other} <= now:  # it is so already; no plan can change it
            continue
        apart = [closed_before(pair.one, pair.other), closed_before(pair.other, pair.one)]
        if pair.least is None or len(pair.between) < pair.least:
            cp.add_bool_or(apart)
            continue
        both = cp.new_bool_var(f"{pair.one} with {pair.other}")
        cp.add_bool_or([*apart, both])
        a, b = pair.one, pair.other
        follows.append((both, lambda laid, a=a, b=b: closed_at(laid, a) > opened_at(laid, b)
                        and closed_at(laid, b) > opened_at(laid, a)))  # fmt: skip
        later = cp.new_bool_var(f"{pair.other} opened later than {pair.one}")
        follows.append((later, lambda laid, a=a, b=b: opened_at(laid, a) <= opened_at(laid, b)))
        cp.add(begin[pair.one] <= begin[pair.other]).only_enforce_if([both, later])
        cp.add(begin[pair.other] <= begin[pair.one]).only_enforce_if([both, ~later])
        there = [key for key in pair.between if key in begin]
        done = len(pair.between) - len(there)
        for last, guard in ((pair.other, later), (pair.one, ~later)):
            cp.add(sum(closed_before(key, last) for key in there) + done >= pair.least).only_enforce_if([both, guard])
    for one, other in work.plank_clashes:
        if one in begin and other in begin and not {one, other} <= now:
            cp.add_bool_or([closed_before(one, other), closed_before(other, one)])
    frames = [key for key in spans if key.startswith("frame")]
    _at_most(cp, [spans[key] for key in frames], max(rules.frames_out, len(now & set(frames))))
    for side in ("P", "S"):
        planks = [key for key in spans if key.startswith("plank") and work.job.member(key).side in (side, "")]
        _at_most(cp, [spans[key] for key in planks], max(rules.planks_off, len(now & set(planks))))
    _neighbours(cp, work, spans, now)
    return lengths


def _neighbours(cp: Any, work: Work, spans: Mapping[str, Any], now: set[str]) -> None:
    """Frames of which no two may ever be out together, a window of the hull at a time: says it again, more strongly."""
    never = {frozenset((pair.one, pair.other)) for pair in work.frame_pairs if pair.least is None}
    keys = [f"frame {label}" for label in work.job.hull_frames if f"frame {label}" in spans]
    for at, key in enumerate(keys):
        group = [key]
        for other in keys[at + 1 :]:
            if all(frozenset((one, other)) in never for one in group):
                group.append(other)
        if len(group) > 1 and len(now & set(group)) < 2:
            cp.add_no_overlap([spans[one] for one in group])


def _at_most(cp: Any, spans: Sequence[Any], count: int) -> None:
    if len(spans) > count:
        if count == 1:
            cp.add_no_overlap(spans)
        else:
            cp.add_cumulative(spans, [1] * len(spans), count)

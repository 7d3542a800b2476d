"""Planning the joints of a whole shell: fewest butts that keep the rules with the stock to hand."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, pairwise
from threading import Event, Thread
from time import monotonic
from typing import Any

from scrieve.errors import BadPlank
from scrieve.planking.butts.joints import KEPT_MM, EndJoint, JointKind, ShellLayout, StrakeRun, asked_of
from scrieve.planking.butts.rules import DEFAULT_RULES, ButtRules, butt_rules
from scrieve.planking.butts.scarfs import scarf

#: How long the search looks for each rule that may bite [s].
_RELAX_SECONDS = 5.0
_POLL_SECONDS = 0.1


@dataclass(frozen=True, slots=True)
class PlankStock:
    """Boards to hand of one length [mm], long enough for one plank each; `count` None: as many as wanted."""

    length_mm: float
    count: int | None = None


@dataclass(frozen=True, slots=True)
class PlanSettings:
    """How joints are to be planned; lengths in mm.

    `joint` 'butt' or 'scarf'; a scarf by `scarf_rule` in planks of `thickness_mm` adds half its length to both planks.
    `trim_mm` is cut off each end of a board. `closed` names bays ('7-8') that can take no joint. The search stops
    after `seconds`. With one worker the same `seed` gives the same plan where the search ends of itself; several
    workers are quicker, and may find another plan that is as good.
    """

    joint: JointKind = "butt"
    thickness_mm: float = 25.0
    scarf_rule: str = "glued, solid plank"
    trim_mm: float = 50.0
    closed: tuple[str, ...] = ()
    seconds: float = 30.0
    seed: int = 1
    workers: int = 8


@dataclass(frozen=True, slots=True)
class PlannedPlank:
    """One plank of a plan: strake, the stations it runs between, the length of board it takes and the board's own."""

    strake: int
    first_mm: float
    last_mm: float
    length_mm: float
    stock_mm: float


@dataclass(frozen=True, slots=True)
class Progress:
    """How the search stands: fewest joints so far (None: no plan yet), fewest that can be, seconds spent."""

    joints: int | None
    bound: int
    seconds: float


@dataclass(frozen=True, slots=True)
class ButtPlan:
    """A planned shell: `layout` with all joints, the planks, and whether no plan with fewer joints exists.

    `blocks` says of each new butt which bay its block fills and how long it can be [mm].
    """

    layout: ShellLayout
    planks: tuple[PlannedPlank, ...]
    joints: int
    bound: int
    proved: bool
    rules: ButtRules
    blocks: tuple[tuple[EndJoint, str, float], ...]


@dataclass(frozen=True, slots=True)
class _Node:
    """A place on a strake where a plank may end: a hood end, a joint that stays, or the middle of a bay."""

    x: float
    spaces: float
    is_joint: bool
    stays: bool


@dataclass(frozen=True, slots=True)
class _Strake:
    """A strake to be made: its nodes in order, and `need` of a board from node a to node b, a < b [mm].

    Node b is not looked at from a (`need` infinite) where a joint that stays lies between, or the plank is too short.
    """

    run: StrakeRun
    nodes: tuple[_Node, ...]
    need: tuple[tuple[float, ...], ...]

    def reach(self, a: int, length: float) -> int:
        """The last node to which a board of this length reaches from node a, with every node before it; a if none."""
        b = a
        while b + 1 < len(self.nodes) and self.wanted(a, b + 1) <= length + 1e-6:
            b += 1
        return b

    def wanted(self, a: int, b: int) -> float:
        """Length of board from node a to node b, whatever the rules say of it [mm]."""
        return self.need[a][b]


def plan_butts(
    layout: ShellLayout,
    stock: Sequence[PlankStock],
    rules: ButtRules | None = None,
    settings: PlanSettings | None = None,
    *,
    tick: Callable[[Progress], bool | None] | None = None,
) -> ButtPlan:
    """Place end joints in the strakes to be renewed: fewest joints, then least length of board.

    Parameters
    ----------
    layout : ShellLayout
        Strakes and frames; joints already there stay, and the new ones keep clear of them.
    stock : sequence of PlankStock
        Lengths to hand.
    rules : ButtRules, optional
        Shift of butts; by default the strictest set.
    settings : PlanSettings, optional
        Butts or scarfs, trim, closed bays, time, seed.
    tick : callable, optional
        Told of progress from another thread, about ten times a second; returns True to stop with the best so far.

    Raises
    ------
    BadPlank
        The stock cannot make some strake, or no plan keeps all rules; the message says which one bites: those without
        which a plan is found, each set aside alone.

    Notes
    -----
    A constraint programme (CP-SAT): for every strake and bay, is there a joint? From every bay the next joint lies
    within the longest board's reach; joints that would breach a rule exclude each other; and of the planks that are
    longer than any one length to hand there are no more than longer boards, which is all that a stock of lengths asks.
    """
    rules = rules or butt_rules(DEFAULT_RULES)
    settings = settings or PlanSettings()
    boards = _sound(stock)
    _possible(layout, boards, rules, settings)
    started = monotonic()
    found = _solve(layout, boards, rules, settings, tick, fewest=True)
    if found is None:
        raise BadPlank(_what_bites(layout, boards, rules, settings))
    if found.stopped or len(boards) == 1 or monotonic() - started > settings.seconds:
        return _plan(layout, boards, rules, settings, found)
    left = replace(settings, seconds=max(0.5, settings.seconds - (monotonic() - started)))
    shorter = _solve(layout, boards, rules, left, tick, fewest=False, joints=found.joints)
    better = found if shorter is None else replace(shorter, bound=found.bound, proved=found.proved)
    return _plan(layout, boards, rules, settings, better)


def _sound(stock: Sequence[PlankStock]) -> list[PlankStock]:
    for board in stock:
        if not (math.isfinite(board.length_mm) and board.length_mm > 0):
            raise BadPlank(f"stock: a length of {board.length_mm} mm; give a value above zero.")
        if board.count is not None and board.count < 0:
            raise BadPlank(f"stock of {board.length_mm:.0f} mm: {board.count} boards; give 0 or more.")
    boards = sorted((b for b in stock if b.count is None or b.count > 0), key=lambda board: board.length_mm)
    if not boards:
        raise BadPlank("stock: no boards; give a length, and how many there are of it.")
    return boards


def _strakes(layout: ShellLayout, boards: list[PlankStock], rules: ButtRules, settings: PlanSettings) -> list[_Strake]:
    added = scarf(settings.thickness_mm, settings.scarf_rule).added_mm if settings.joint == "scarf" else 0.0
    closed = {name.strip() for name in settings.closed}
    bays = []
    for (low, x), (high, after) in pairwise(layout.frames):
        if f"{low}-{high}" not in closed and (rules.on_frames or after - x >= 2 * rules.clear_mm - 1e-9):
            bays.append((x + after) / 2)
    if strange := closed - {f"{low}-{high}" for (low, _), (high, _) in pairwise(layout.frames)}:
        raise BadPlank(f"closed bays: {sorted(strange)[0]!r} is no bay of this shell; write them as 7-8.")
    found = []
    for run in (run for run in layout.strakes if run.renew):
        stay = [joint.x_mm for joint in layout.joints if joint.strake == run.number]
        lowest = run.number == layout.strakes[0].number
        nodes = [_Node(x, layout.spaces_at(x), False, True) for x in (run.first_mm, run.last_mm)]
        nodes += [_Node(x, layout.spaces_at(x), True, True) for x in stay]
        for x in bays:
            near = [*layout.opposite_mm, *layout.keel_scarfs_mm] if lowest and rules.garboard_mm else []
            if any(abs(x - other) - added < rules.garboard_mm - KEPT_MM for other in near):
                continue
            if run.first_mm < x < run.last_mm and all(layout.spaces_at(x) != layout.spaces_at(at) for at in stay):
                nodes.append(_Node(x, layout.spaces_at(x), True, False))
        nodes.sort(key=lambda node: node.x)
        ends = [run.length_to(node.x) for node in nodes]
        need = tuple(
            tuple(
                math.inf if b <= a
                else ends[b] - ends[a] + 2 * settings.trim_mm + added * (nodes[a].is_joint + nodes[b].is_joint)
                for b in range(len(nodes))
            )
            for a in range(len(nodes))
        )  # fmt: skip
        found.append(_Strake(run, tuple(nodes), need))
    return found


def _short(strake: _Strake, a: int, b: int, rules: ButtRules) -> bool:
    """Whether a plank from node a to node b would be shorter than the rules allow, and is not there already."""
    one, other = strake.nodes[a], strake.nodes[b]
    if one.stays and other.stays:
        return False
    length = strake.run.length_to(other.x) - strake.run.length_to(one.x)
    return other.spaces - one.spaces < rules.shortest_spaces - 1e-9 or length < rules.shortest_mm - KEPT_MM


def _possible(layout: ShellLayout, boards: list[PlankStock], rules: ButtRules, settings: PlanSettings) -> None:
    """Raise BadPlank where a strake cannot be made even alone."""
    for strake in _strakes(layout, boards, rules, settings):
        if _fewest(strake, boards, rules) is None:
            loose = replace(rules, shortest_spaces=0.0, shortest_mm=0.0)
            why = "no run of planks from its bays is long enough and short enough"
            if _fewest(strake, boards, loose) is not None:
                why = f"the shortest plank allowed ({_shortest(rules)}) leaves none"
            raise BadPlank(
                f"strake {strake.run.number} cannot be made of boards up to {boards[-1].length_mm:.0f} mm: {why}; "
                "give longer boards, open a bay, or choose other rules."
            )


def _shortest(rules: ButtRules) -> str:
    parts = [f"{rules.shortest_spaces:g} frame spaces"] if rules.shortest_spaces else []
    return " and ".join([*parts, *([f"{rules.shortest_mm:.0f} mm"] if rules.shortest_mm else [])])


def _fewest(strake: _Strake, boards: list[PlankStock], rules: ButtRules) -> int | None:
    """Fewest new joints with which some run of planks makes the strake, alone; None where none does."""
    last = len(strake.nodes) - 1
    joints = {0: 0}
    for a in range(last):
        if a in joints:
            for b in range(a + 1, strake.reach(a, boards[-1].length_mm) + 1):
                if not _short(strake, a, b, rules):
                    here = joints[a] + (not strake.nodes[b].stays)
                    joints[b] = min(joints.get(b, here), here)
                if strake.nodes[b].stays:
                    break
    return joints.get(last)


@dataclass(frozen=True, slots=True)
class _Found:
    joints: int
    bound: int
    proved: bool
    stopped: bool
    pieces: tuple[tuple[_Strake, int, int], ...]


def _solve(
    layout: ShellLayout,
    boards: list[PlankStock],
    rules: ButtRules,
    settings: PlanSettings,
    tick: Callable[[Progress], bool | None] | None,
    *,
    fewest: bool,
    joints: int = 0,
) -> _Found | None:
    """The best plan found in the time; None where there is none. With `fewest` False: least board for `joints`."""
    from ortools.sat.python import cp_model  # large: loaded only where a plan is made

    strakes = _strakes(layout, boards, rules, settings)
    model = cp_model.CpModel()
    here = [[model.new_bool_var("") for _ in strake.nodes] for strake in strakes]
    lengths = [board.length_mm for board in boards]
    longer: list[list[Any]] = [[] for _ in boards]  # planks that need more than board c
    for strake, joints_in in zip(strakes, here, strict=True):
        last = len(strake.nodes) - 1
        alone = _fewest(strake, boards, rules) or 0  # says nothing new, but the search proves far more from it
        model.add(sum(joint for node, joint in zip(strake.nodes, joints_in, strict=True) if not node.stays) >= alone)
        for i, node in enumerate(strake.nodes):
            if node.stays:
                model.add(joints_in[i] == 1)
            if i == last:
                continue
            for c, length in enumerate(lengths):
                within = joints_in[i + 1 : strake.reach(i, length) + 1]
                if c == len(lengths) - 1:
                    model.add_at_least_one(within)
                else:
                    more = model.new_bool_var("")
                    model.add_bool_or([joints_in[i].negated(), more, *within])
                    longer[c].append(more)
    for group in _excluded(layout, strakes, rules, settings):
        inside = [here[s][i] for s, i in group if s >= 0]
        if len(inside) == len(group):
            model.add_at_most_one(inside)
        else:  # against a joint of a strake that stays
            for joint in inside:
                model.add(joint == 0)
    new = [joint for strake, joints_in in zip(strakes, here, strict=True)
           for node, joint in zip(strake.nodes, joints_in, strict=True) if not node.stays]  # fmt: skip
    stay = len(layout.joints)
    kept_planks = sum(sum(node.stays for node in strake.nodes) - 1 for strake in strakes)
    for c in range(len(boards)):
        rest = [other.count for other in boards[c:]]
        if all(count is not None for count in rest):
            room = sum(count for count in rest if count is not None)
            model.add((sum(longer[c - 1]) if c else sum(new) + kept_planks) <= room)
    if fewest:
        model.minimize(sum(new))
    else:
        model.add(sum(new) <= joints - stay)
        model.minimize(sum(int(lengths[c + 1] - lengths[c]) * sum(longer[c]) for c in range(len(boards) - 1))
                       + int(lengths[0]) * sum(new))  # fmt: skip
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = settings.workers
    solver.parameters.random_seed = settings.seed
    solver.parameters.max_time_in_seconds = settings.seconds
    watch = _Watch(
        solver, tick if fewest else None if tick is None else (lambda p: tick(replace(p, joints=joints))), stay
    )
    status = watch.run(model)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        if status == cp_model.UNKNOWN and fewest:
            raise BadPlank(f"no plan of butts was found in {settings.seconds:g} s, nor shown to be impossible; give it "
                           "more time.")  # fmt: skip
        return None
    taken = []
    for strake, joints_in in zip(strakes, here, strict=True):
        at = [i for i, joint in enumerate(joints_in) if solver.boolean_value(joint)]
        taken += [(strake, a, b) for a, b in pairwise(at)]
    placed = stay + sum(solver.boolean_value(joint) for joint in new)
    bound = stay + math.ceil(solver.best_objective_bound - 1e-6) if fewest else placed
    return _Found(placed, bound, status == cp_model.OPTIMAL, watch.stopped, tuple(taken))


class _Watch:
    """Runs a solver while another thread tells of progress and stops it where asked."""

    def __init__(self, solver: Any, tick: Callable[[Progress], bool | None] | None, stay: int) -> None:
        self.solver, self.tick, self.stay = solver, tick, stay
        self.best: int | None = None
        self.bound = stay
        self.stopped = False
        self.done = Event()
        self.started = monotonic()

    def run(self, model: Any) -> Any:
        from ortools.sat.python import cp_model

        watch = self

        class Told(cp_model.CpSolverSolutionCallback):
            def on_solution_callback(self) -> None:
                watch.best = watch.stay + int(self.objective_value)
                watch.bound = watch.stay + math.ceil(self.best_objective_bound - 1e-6)

        thread = Thread(target=self._poll, daemon=True)
        if self.tick is not None:
            thread.start()
        try:
            return self.solver.solve(model, Told())
        finally:
            self.done.set()
            if self.tick is not None:
                thread.join()

    def _poll(self) -> None:
        while not self.done.wait(_POLL_SECONDS):
            if self.tick is not None and self.tick(Progress(self.best, self.bound, monotonic() - self.started)):
                self.stopped = True
                self.solver.stop_search()
                return


_Place = tuple[int, int]


def _new_joint(strake: int, x: float, settings: PlanSettings) -> EndJoint:
    """Return the joint that is planned at a place: a butt, or a scarf as long as its rule makes it."""
    long = scarf(settings.thickness_mm, settings.scarf_rule).length_mm if settings.joint == "scarf" else 0.0
    return EndJoint(strake, x, settings.joint, long)


def _excluded(
    layout: ShellLayout, strakes: list[_Strake], rules: ButtRules, settings: PlanSettings
) -> list[tuple[_Place, ...]]:
    """Groups of places (strake, node) of which one at most may be a joint.

    Joints of strakes that stay are told as strake −1. Pairs that exclude each other are gathered, where they do so
    all together, into windows along two strakes and into bays over several: fewer and stronger for the search.
    """
    there = {(joint.strake, joint.x_mm): joint for joint in layout.joints}
    widest = [*rules.apart, *(rules.scarfs or ())]
    places: list[tuple[_Place, EndJoint, float, bool]] = []
    pairs: set[tuple[_Place, _Place]] = set()
    for s, strake in enumerate(strakes):
        number = strake.run.number
        for i, node in enumerate(strake.nodes):
            if node.is_joint:
                joint = there.get((number, node.x)) or _new_joint(number, node.x, settings)
                places.append(((s, i), joint, node.spaces, node.stays))
        pairs |= {((s, a), (s, b)) for a, b in combinations(range(len(strake.nodes)), 2) if _short(strake, a, b, rules)}
    planned = {strake.run.number for strake in strakes}
    places += [((-1, j), joint, layout.spaces_at(joint.x_mm), True)
               for j, joint in enumerate(layout.joints) if joint.strake not in planned]  # fmt: skip
    for (one, a, at, stays), (other, b, bt, also) in combinations(places, 2):
        if a.strake == b.strake or (stays and also):
            continue
        apart = abs(at - bt), a.clear_of(b)
        if not any(apart[0] < rule.spaces or apart[1] < rule.mm for rule in widest):
            continue
        rule = asked_of(layout, rules, a, b)
        if rule and (apart[0] < rule.spaces - 1e-9 or apart[1] < rule.mm - KEPT_MM):
            pairs.add((one, other))
    groups: list[tuple[_Place, ...]] = []
    covered: set[tuple[_Place, _Place]] = set()
    for group in _windows(strakes, pairs):
        inside = set(combinations(group, 2))
        if not inside <= covered:
            groups.append(group)
            covered |= inside
    return groups + sorted(pairs - covered)


def _windows(strakes: list[_Strake], pairs: set[tuple[_Place, _Place]]) -> Iterator[tuple[_Place, ...]]:
    """Largest runs of bays in one, two or more neighbouring strakes whose places all exclude each other."""
    for s in range(len(strakes)):
        for deep in range(1, 5):
            rows = range(s, min(s + deep, len(strakes)))
            column: dict[float, list[_Place]] = {}
            for row in rows:
                for i, node in enumerate(strakes[row].nodes):
                    if node.is_joint and not node.stays:
                        column.setdefault(node.spaces, []).append((row, i))
            bays = sorted(column)
            for start in range(len(bays)):
                group: list[_Place] = []
                for bay in bays[start:]:
                    wider = sorted([*group, *column[bay]])
                    if not all(pair in pairs for pair in combinations(wider, 2)):
                        break
                    group = wider
                if len(group) > 1:
                    yield tuple(group)


def _what_bites(layout: ShellLayout, boards: list[PlankStock], rules: ButtRules, settings: PlanSettings) -> str:
    """Say which rules, each set aside alone, would let a plan be found."""
    tried: list[tuple[str, ButtRules, list[PlankStock]]] = []
    own = settings.joint == "scarf" and rules.scarfs is not None
    rows = rules.scarfs if own and rules.scarfs is not None else rules.apart
    for rule in rows:
        asks = " and ".join([*([f"{rule.spaces:g} frame spaces"] if rule.spaces else []),
                             *([f"{rule.mm:.0f} mm"] if rule.mm else [])])  # fmt: skip
        left = tuple(other for other in rows if other != rule)
        looser = replace(rules, scarfs=left) if own else replace(rules, apart=left)
        tried.append((f"{rule.strakes}: {asks} apart", looser, boards))
    if rules.shortest_spaces or rules.shortest_mm:
        loose = replace(rules, shortest_spaces=0.0, shortest_mm=0.0)
        tried.append((f"no plank under {_shortest(rules)}", loose, boards))
    if rules.garboard_mm:
        tried.append((f"garboards {rules.garboard_mm:.0f} mm apart", replace(rules, garboard_mm=0.0), boards))
    if any(board.count is not None for board in boards):
        tried.append(("the number of boards to hand", rules, [PlankStock(board.length_mm) for board in boards]))
    quick = replace(settings, seconds=min(settings.seconds, _RELAX_SECONDS))
    helps = []
    for name, other_rules, other_boards in tried:
        try:
            if _solve(layout, other_boards, other_rules, quick, None, fewest=True) is not None:
                helps.append(name)
        except BadPlank:
            continue
    said = f"no plan of butts keeps all rules ({rules.name}) with this stock"
    if not helps:
        return f"{said}, nor would it without any one of them; give longer boards, or renew fewer strakes at once."
    return f"{said}. It could be done without any one of these: {'; '.join(helps)}."


def _plan(
    layout: ShellLayout, boards: list[PlankStock], rules: ButtRules, settings: PlanSettings, found: _Found
) -> ButtPlan:
    joints, blocks = list(layout.joints), []
    kinds = {(joint.strake, joint.x_mm) for joint in layout.joints}
    for strake, _, end in found.pieces:
        node = strake.nodes[end]
        if node.is_joint and (strake.run.number, node.x) not in kinds:
            joints.append(_new_joint(strake.run.number, node.x, settings))
    joints.sort(key=lambda joint: (joint.strake, joint.x_mm))
    whole = replace(layout, joints=tuple(joints))
    for joint in joints:
        if joint.kind == "butt" and (joint.strake, joint.x_mm) not in kinds:
            x = [station for _, station in layout.frames]
            bay = next((b - a for a, b in pairwise(x) if a < joint.x_mm < b), 0.0)
            blocks.append((joint, whole.where(joint.x_mm), bay))
    left = {board.length_mm: board.count for board in boards}
    planks = []
    for strake, start, end in sorted(found.pieces, key=lambda piece: -piece[0].wanted(*piece[1:])):
        need = strake.wanted(start, end)
        takes = next(
            length for length, count in sorted(left.items()) if length >= need - 1e-6 and (count is None or count > 0)
        )
        count = left[takes]
        left[takes] = None if count is None else count - 1
        planks.append(PlannedPlank(strake.run.number, strake.nodes[start].x, strake.nodes[end].x, need, takes))
    planks.sort(key=lambda plank: (plank.strake, plank.first_mm))
    return ButtPlan(whole, tuple(planks), found.joints, found.bound, found.proved, rules, tuple(blocks))

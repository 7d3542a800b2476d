"""What the work costs and what must be ordered: timber, glue, fastenings, caulking and time; planned beside used."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from scrieve.errors import BadPlan
from scrieve.working import Working
from scrieve.workplan.kinds import MemberKind, kind_of
from scrieve.workplan.members import Did
from scrieve.workplan.plan import Plan
from scrieve.workplan.yard import Yard

#: Kind of record under which material used is kept.
USED = "used"
#: What is bought besides timber: its unit.
GOODS: Mapping[str, str] = {"glue": "kg", "fastenings": "pieces", "cotton": "kg", "stopping": "litres"}
#: Share of sawn timber that is lost on the way, unless the yard says otherwise. Common practice, no source.
TIMBER_WASTE = 0.35


@dataclass(frozen=True, slots=True)
class Piece:
    """Timber for one member, as sawn: `count` pieces so long, so wide, so thick [mm]."""

    timber: str
    thickness_mm: float
    width_mm: float
    length_mm: float
    count: int
    member: str

    @property
    def volume_m3(self) -> float:
        """All of them together."""
        return self.thickness_mm * self.width_mm * self.length_mm * self.count * 1e-9


@dataclass(frozen=True, slots=True)
class Prices:
    """What things cost in the yard's money; None: not known. `timber` by name, for a cubic metre; `goods` by unit."""

    timber: Mapping[str, float]
    goods: Mapping[str, float]
    waste: float = TIMBER_WASTE

    def __post_init__(self) -> None:
        if strange := sorted(set(self.goods) - set(GOODS)):
            raise BadPlan(f"price of {strange[0]!r}; give prices of {', '.join(GOODS)}, and of timber by its name.")
        for name, price in [*self.timber.items(), *self.goods.items()]:
            if not (math.isfinite(price) and price >= 0):
                raise BadPlan(f"price of {name}: {price:g}; give 0 or more.")
        if not 0 <= self.waste < 0.95:
            raise BadPlan(f"share of timber lost: {self.waste:g}; give 0 to 0.95.")

    def to_mapping(self) -> dict[str, Any]:
        """Plain values, fit for JSON."""
        return {"timber": dict(self.timber), "goods": dict(self.goods), "waste": self.waste}

    @classmethod
    def from_mapping(cls, given: Mapping[str, Any] | None) -> Prices:
        """Read prices as `to_mapping` gives them."""
        if not given:
            return cls({}, {})
        try:
            return cls({str(k): float(v) for k, v in given.get("timber", {}).items()},
                       {str(k): float(v) for k, v in given.get("goods", {}).items()},
                       float(given.get("waste", TIMBER_WASTE)))  # fmt: skip
        except (TypeError, ValueError, AttributeError) as error:
            if isinstance(error, BadPlan):
                raise
            raise BadPlan(f"the prices that are kept cannot be read ({error!r}); give them again.") from error


#: What an amount is made up of: of each member, glue-up or record, how much.
Parts = tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True)
class ToOrder:
    """Timber of one name and thickness to be ordered: pieces, the longest and widest, net and with what is lost.

    `sorts` are the pieces it is for, alike ones together.
    """

    timber: str
    thickness_mm: float
    pieces: int
    metres: float
    longest_mm: float
    widest_mm: float
    net_m3: float
    order_m3: float
    members: tuple[str, ...]
    sorts: tuple[Piece, ...] = ()


@dataclass(frozen=True, slots=True)
class Line:
    """One thing: how much is planned, what was used so far, and what both cost (None: its price is not known).

    `planned_of` and `used_of` are what these are made up of; of timber, the net volumes, before what is lost.
    """

    what: str
    unit: str
    planned: float
    used: float
    price: float | None
    planned_of: Parts = ()
    used_of: Parts = ()

    @property
    def cost(self) -> float | None:
        """Of what is planned."""
        return None if self.price is None else self.price * self.planned

    @property
    def used_cost(self) -> float | None:
        """Of what was used."""
        return None if self.price is None else self.price * self.used


@dataclass(frozen=True, slots=True)
class Costs:
    """Every line, their sums as far as prices are known, and what has no price."""

    lines: tuple[Line, ...]
    orders: tuple[ToOrder, ...]
    workings: tuple[Working, ...]

    @property
    def cost(self) -> float:
        """Of what is planned and has a price."""
        return sum(line.cost or 0.0 for line in self.lines)

    @property
    def used_cost(self) -> float:
        """Of what was used and has a price."""
        return sum(line.used_cost or 0.0 for line in self.lines)

    @property
    def unpriced(self) -> tuple[str, ...]:
        """What is wanted or used and has no price."""
        return tuple(line.what for line in self.lines if line.price is None and (line.planned or line.used))


def to_order(pieces: Iterable[Piece], waste: float) -> tuple[ToOrder, ...]:
    """Gather timber by name and thickness.

    Parameters
    ----------
    pieces : iterable of Piece
    waste : float
        Share of what is bought that is lost: order = net / (1 - waste).

    Examples
    --------
    >>> one = to_order([Piece("larch", 30, 200, 5000, 1, "plank 9"), Piece("larch", 30, 150, 4000, 2, "plank 8")], 0.4)
    >>> one[0].pieces, round(one[0].net_m3, 6), round(one[0].order_m3, 6), one[0].longest_mm
    (3, 0.066, 0.11, 5000)
    """
    groups: dict[tuple[str, float], list[Piece]] = {}
    for piece in pieces:
        groups.setdefault((piece.timber or "any", round(piece.thickness_mm, 1)), []).append(piece)
    return tuple(
        ToOrder(timber, thick, sum(p.count for p in group), sum(p.count * p.length_mm for p in group) / 1000,
                max(p.length_mm for p in group), max(p.width_mm for p in group), sum(p.volume_m3 for p in group),
                sum(p.volume_m3 for p in group) / (1 - waste), tuple(dict.fromkeys(p.member for p in group)),
                tuple(group))
        for (timber, thick), group in sorted(groups.items())
    )  # fmt: skip


def costs(
    yard: Yard,
    plan: Plan | None,
    pieces: Sequence[Piece],
    goods: Mapping[str, Parts],
    prices: Prices,
    done: Mapping[str, Did],
    used: Mapping[str, Parts],
) -> Costs:
    """Reckon planned and used.

    Parameters
    ----------
    yard : Yard
    plan : Plan or None
        For hours still to be worked; None counts only those worked.
    pieces : sequence of Piece
        Timber as sawn, of all members.
    goods : mapping of `GOODS` -> what is wanted of it
        Of each member.
    prices : Prices
    done : mapping of operation -> Did
        Hours worked: as typed, or by the times of the yard.
    used : mapping of what -> what was used of it
        As recorded: 'larch' in m³, and `GOODS`.
    """
    orders = to_order(pieces, prices.waste)
    lines = []
    timbers = dict.fromkeys([order.timber for order in orders] + [name for name in used if name not in GOODS])
    for timber in timbers:
        net = _by_member(order for order in orders if order.timber == timber)
        spent = used.get(timber, ())
        wanted = sum(order.order_m3 for order in orders if order.timber == timber)
        lines.append(Line(timber, "m³", wanted, _sum(spent), prices.timber.get(timber), net, spent))
    for name, unit in GOODS.items():
        asked, spent = goods.get(name, ()), used.get(name, ())
        if _sum(asked) or _sum(spent):
            lines.append(Line(name, unit, _sum(asked), _sum(spent), prices.goods.get(name), asked, spent))
    worked = hours_worked(yard, done)
    left: dict[str, float] = {}
    if plan is not None:
        for entry in plan.entries:
            if entry.op not in done or done[entry.op].finished is None:
                for name in entry.people:
                    left[name] = left.get(name, 0.0) + entry.ticks / 4
    reckoned = hours_worked(yard, done, typed=False)
    for person in yard.people:
        parts = (("what is done, by the yard's times", reckoned.get(person.name, 0.0)),
                 ("what the plan has still to do", left.get(person.name, 0.0)))  # fmt: skip
        spent = (("what is done, as typed or by the yard's times", worked.get(person.name, 0.0)),)
        lines.append(Line(f"time of {person.name}", "h", _sum(parts), _sum(spent), person.hour_cost, parts, spent))
    return Costs(tuple(lines), orders, _workings(orders, prices, lines))


def _sum(parts: Parts) -> float:
    return sum(amount for _, amount in parts)


def _by_member(orders: Iterable[ToOrder]) -> Parts:
    found: dict[str, float] = {}
    for order in orders:
        for piece in order.sorts:
            found[piece.member] = found.get(piece.member, 0.0) + piece.volume_m3
    return tuple(found.items())


def hours_worked(yard: Yard, done: Mapping[str, Did], *, typed: bool = True) -> dict[str, float]:
    """Hours that each person has worked at what is finished: as typed with it, else by the yard's times."""
    found: dict[str, float] = {}
    for op, did in done.items():
        if did.finished is None:
            continue
        member, _, key = op.rpartition(": ")
        of: MemberKind = "frame" if member.startswith("frame ") else "plank"
        minutes = did.minutes if typed and did.minutes is not None else yard.kind(of, kind_of(of, key))
        for name in did.people:
            found[name] = found.get(name, 0.0) + minutes / 60
    return found


def _workings(orders: Sequence[ToOrder], prices: Prices, lines: Sequence[Line]) -> tuple[Working, ...]:
    net, bought = sum(order.net_m3 for order in orders), sum(order.order_m3 for order in orders)
    hours = sum(line.planned for line in lines if line.unit == "h")
    known = sum(line.cost or 0.0 for line in lines)
    return (
        Working("Timber to order", f"{bought:.3f} m³", "net ÷ (1 - share lost)",
                (("net, as sawn", f"{net:.3f} m³"), ("share lost", f"{prices.waste:.0%}")),
                "share lost: shop default, common practice, no source; change it to suit",
                "sizes are as sawn with planing allowed for; laying the planks on real boards tells more"),
        Working("Hours", f"{hours:.1f} h", "Σ people × time of each operation, done and still to do", (),
                "times of the yard: common practice, no source, until your own stand"),
        Working("Cost", f"{known:.2f}", "Σ amount × price, of what has a price",
                tuple((line.what, f"{line.planned:.3g} {line.unit} × {line.price:g}") for line in lines
                      if line.price is not None), "prices as typed"),
    )  # fmt: skip

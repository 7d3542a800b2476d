"""How the figures of the costs, of the order and of what-if came about, row by row."""

from __future__ import annotations

from collections.abc import Sequence

from scrieve.frames.columns.rows import Columns, put_in
from scrieve.wording import length, small
from scrieve.working import Working
from scrieve.workplan.costs import TIMBER_WASTE, Costs, Line, Parts, ToOrder
from scrieve.workplan.whatif import Outcome, days_later

_PRICES = "prices as typed"
_LOST = f"share lost: as typed; {TIMBER_WASTE:.0%} at first, common practice, no source"
_TIMES = "times of the yard: common practice, no source, until your own stand"
_NONE = Working("", "", "", (), "")


def _amount(value: float, unit: str) -> str:
    places = {"m³": 3, "pieces": 0, "h": 1}.get(unit, 2)
    return f"{value:.{places}f} {unit}"


def _parts(parts: Parts, unit: str) -> tuple[tuple[str, str], ...]:
    return tuple((name, _amount(value, unit)) for name, value in parts)


def _sum(parts: Parts, unit: str) -> str:
    return _amount(sum(value for _, value in parts), unit)


def cost_columns(costs: Costs, waste: float) -> Columns:
    """Of the table of costs: planned, used, left, and what both cost; the last row is the sum."""
    lines, whole = costs.lines, "together"
    planned = [_planned(line, waste) for line in lines]
    used = [
        put_in(f"{line.what}, used", _sum(line.used_of, line.unit), _amount(line.used, line.unit),
               "Σ of what was recorded", _parts(line.used_of, line.unit), "records of the logbook")
        for line in lines
    ]  # fmt: skip
    left = [
        put_in(f"{line.what}, left", f"{_amount(line.planned, line.unit)} - {_amount(line.used, line.unit)}",
               _amount(line.planned - line.used, line.unit), "planned - used", (), "the columns before")
        for line in lines
    ]  # fmt: skip
    return {
        "planned": (*planned, _NONE),
        "used": (*used, _NONE),
        "left": (*left, _NONE),
        "cost planned": (*(_cost(line, line.planned, line.cost) for line in lines),
                         _total(whole, [(line.what, line.cost) for line in lines], costs.cost)),
        "cost used": (*(_cost(line, line.used, line.used_cost) for line in lines),
                      _total(whole, [(line.what, line.used_cost) for line in lines], costs.used_cost)),
    }  # fmt: skip


def _planned(line: Line, waste: float) -> Working:
    figure, parts = f"{line.what}, planned", _parts(line.planned_of, line.unit)
    if line.unit == "m³":
        numbers = f"{_sum(line.planned_of, line.unit)} / (1 - {waste:.2f})"
        formula = "net, as sawn, of all members / (1 - share lost)"
        return put_in(figure, numbers, _amount(line.planned, line.unit), formula, parts, _LOST)
    of = {"h": ("Σ people × time of each operation", _TIMES),
          "pieces": ("Σ of all planks to be hung", "fastening as settled with the lining (docs/lining-off.md)")
          }.get(line.unit, ("Σ of all members", "glue-up cards of the frames; seams of the planks as settled with the "
                            "lining"))  # fmt: skip
    return put_in(figure, _sum(line.planned_of, line.unit), _amount(line.planned, line.unit), of[0], parts, of[1])


def _cost(line: Line, amount: float, cost: float | None) -> Working:
    if line.price is None or cost is None:
        return _NONE
    numbers = f"{_amount(amount, line.unit)} × {line.price:g}"
    return put_in(f"{line.what}, cost", numbers, f"{cost:.2f}", "amount × price", (), _PRICES)


def _total(figure: str, parts: Sequence[tuple[str, float | None]], whole: float) -> Working:
    known = tuple((name, f"{cost:.2f}") for name, cost in parts if cost is not None)
    return put_in(figure, " + ".join(cost for _, cost in known) or "0", f"{whole:.2f}", "Σ of what has a price", known,
                  _PRICES)  # fmt: skip


def order_columns(orders: Sequence[ToOrder], waste: float) -> Columns:
    """Of the table of timber to order: metres, longest, widest, net and to be ordered."""
    rows = [_ordered(order, waste) for order in orders]
    return {name: tuple(row[name] for row in rows) for name in ("metres", "longest", "widest", "net", "order")}


def _ordered(order: ToOrder, waste: float) -> dict[str, Working]:
    name, source = f"{order.timber}, {order.thickness_mm:g} mm", "members as designed, as sawn"
    long = tuple((p.member, f"{p.count} × {p.length_mm / 1000:.3f} m") for p in order.sorts)
    sizes = tuple((of, f"{text} × {p.width_mm / 1000:.3f} m") for (of, text), p in zip(long, order.sorts, strict=True))
    area = sum(p.count * p.length_mm * p.width_mm for p in order.sorts) / 1e6
    net, bought = f"{order.net_m3:.3f} m³", f"{order.order_m3:.3f} m³"
    return {
        "metres": put_in(f"{name}, metres", " + ".join(text for _, text in long), f"{order.metres:.1f} m",
                         "Σ number × length", (), source),
        "longest": put_in(f"{name}, longest", f"the longest of {order.pieces}", length(order.longest_mm),
                          "greatest length", long, source),
        "widest": put_in(f"{name}, widest", f"the widest of {order.pieces}", small(order.widest_mm),
                         "greatest width", sizes, source),
        "net": put_in(f"{name}, net", f"{order.thickness_mm / 1000:.4f} m × {area:.3f} m²", net,
                      "thickness × Σ number × length × width", sizes, source),
        "order": put_in(f"{name}, order", f"{net} / (1 - {waste:.2f})", bought, "net / (1 - share lost)", (), _LOST),
    }  # fmt: skip


def outcome_columns(outcomes: Sequence[Outcome]) -> Columns:
    """Of the table of what-if: days later, days of the shop, and what is proved."""
    base = next((one.plan for one in outcomes if one.plan), None)
    later, days, proved = [], [], []
    for one in outcomes:
        if one.plan is None or base is None:
            later.append(_NONE)
            days.append(_NONE)
            proved.append(_NONE)
            continue
        plan, count = one.plan, days_later(one, base.finish.date())
        begun = f"{plan.made:%a %-d %b %H:%M}"
        later.append(put_in(f"{one.name}, days later", f"{plan.finish:%-d %b %Y} - {base.finish:%-d %b %Y}",
                            f"{count} days", "finish - finish as it is", (), "calendar"))  # fmt: skip
        days.append(put_in(f"{one.name}, days of the shop", f"to {plan.finish:%a %-d %b %H:%M}", f"{plan.value:.1f}",
                           "quarters of an hour of shop hours to the last operation, by an ordinary day's",
                           (("from", begun), ("operations", f"{len(plan.entries)}")), _TIMES))  # fmt: skip
        proved.append(put_in(f"{one.name}, proved", f"({plan.value:.1f} - {plan.bound:.1f}) / {plan.value:.1f}",
                             f"{plan.gap:.0%}", "(found - least possible) / found",
                             (("searched", f"{plan.seconds:.0f} s"),), "bound of the search"))  # fmt: skip
    return {"days later": tuple(later), "shop days": tuple(days), "proved": tuple(proved)}

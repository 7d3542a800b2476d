"""Acts on the rack and the laying, each one transaction: boards added, rules set, parts put by hand, a board cut."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from scrieve import store
from scrieve.errors import BadBoard, BadMarks
from scrieve.sheets.board_dxf import read_boards_dxf
from scrieve.stock.board import Board, rectangular
from scrieve.stock.by_hand import let_go, put, taken_off
from scrieve.stock.forms import mapping_of, read_boards
from scrieve.stock.layout import Shop
from scrieve.stock.own_rules import read_own, write_own
from scrieve.stock.rip_kept import RIPPING, boards_free, kept_ripping, rip
from scrieve.stock.standing import LAYING, OFF, SHOP, Standing, hand_step, step_back
from scrieve.store import Conflict
from scrieve.units import format_length
from scrieve.web.addresses import part_path
from scrieve.web.forms import Parcel, read_length
from scrieve.web.people.who import who
from scrieve.web.settling import Seen, as_seen, not_changed
from scrieve.web.timber.hand import in_hand, told_place, told_places
from scrieve.web.timber.work import LAYINGS, keep_cut, keep_laying, keep_shop, keep_uncut, strips_wanted, timber
from scrieve.web.views import View

#: Fields of the shop's rules that are lengths, and those that are plain numbers.
LENGTHS = ("sound_knot_mm", "defect_margin_mm", "edge_margin_mm", "kerf_mm", "margin_mm", "keep_length_mm",
           "keep_width_mm")  # fmt: skip
NUMBERS = ("grain_run", "seconds")
#: The page waits no longer for ripping [s].
RIP_SECONDS = 6.0
#: A step by hand is tried so often where others are made at the same moment.
_TRIES = 5
#: Where a part is that lies on no board.
NOWHERE = "on no board"


def shop_form(shop: Shop, view: View) -> dict[str, str]:
    """Return the shop's rules as the form's fields have them."""
    kept = shop.to_mapping()
    units = view.boat.units
    form = {name: format_length(kept[name], units, 0 if kept[name] == round(kept[name]) else 1) for name in LENGTHS}
    return form | {name: f"{kept[name]:g}" for name in NUMBERS} | {
        "sapwood": shop.sapwood, "knot_face": shop.knot_face, "show": shop.show,
        "book_matched": "yes" if shop.book_matched else "",
        "own": write_own(shop.own, lambda mm: format_length(mm, units, 0 if mm == round(mm) else 1)),
    }  # fmt: skip


def _add(view: View, parcel: Parcel) -> str:
    """Add a square-edged board as typed."""
    sent = parcel.fields
    name = sent.get("name", "").strip()
    if not name:
        raise BadBoard("the board has no name; give what is written on its end.")
    values = {what: _length(sent, what, view) for what in ("length", "width", "thickness")}
    cost = _number(sent["cost"], "cost") if sent.get("cost", "").strip() else None
    face = sent.get("best_face", "")
    if face not in ("", "top", "under"):
        raise BadBoard(f"best face {face!r}: say top, under, or neither.")
    board = rectangular(name, values["length"], values["width"], values["thickness"], cost=cost, best_face=face,
                        timber=sent.get("timber", "").strip().lower())  # fmt: skip
    _store(view, [board], sent)
    return "rack"


def _table(view: View, parcel: Parcel) -> str:
    """Add the boards of a table, pasted or as a file, or of a drawing (DXF)."""
    text = parcel.fields.get("table", "")
    data, name = (parcel.file, parcel.file_name) if parcel.file else (text.encode(), "the pasted table")
    if not data.strip():
        raise BadMarks("nothing was pasted, and no file was chosen.")
    thick = parcel.fields.get("thick", "").strip()
    if name.lower().endswith(".dxf"):
        thickness = _length({"thick": thick}, "thick", view) if thick else None
        reading = read_boards_dxf(data, name, units=view.boat.units, thickness_mm=thickness)
    else:
        reading = read_boards(data, name, units=view.boat.units)
    if reading.bad:
        raise BadMarks("some cells cannot be read, so nothing was stored:", reading.bad)
    _store(view, reading.boards, parcel.fields)
    return "rack"


def _store(view: View, boards: Sequence[Board], sent: Mapping[str, str]) -> None:
    timber(view).may_add(boards)
    for board in boards:
        key = f"{sent['key']}-{board.name}" if sent.get("key") else None
        store.keep_choice(view.file.engine, "board", board.name, mapping_of(board), key=key, who=who())


def _forget(view: View, parcel: Parcel) -> str:
    """Take a board off the rack."""
    name = parcel.fields.get("board", "")
    if name not in {board.name for board in timber(view).boards}:
        raise BadBoard(f"board {name!r} is not in the rack.")
    _as_on_page(view, timber(view), parcel, name, "Take it off the rack all the same")
    typed, seen = name in store.choices(view.file.engine, "board"), Seen.of(parcel.fields).act
    store.keep_choice(view.file.engine, "board", name, None if typed else OFF, seen=seen, who=who())
    return "rack"


def _shop(view: View, parcel: Parcel) -> str:
    """Keep the shop's rules."""
    sent = parcel.fields
    before = Shop.from_mapping(as_seen(view.file.engine, "layout", SHOP, sent))
    told = shop_form(before, view)
    given: dict[str, Any] = {
        name: _length(sent, name, view) for name in LENGTHS if name in sent and sent[name].strip() != told[name]
    }
    given |= {name: _number(sent[name], name.replace("_", " ")) for name in NUMBERS if name in sent}
    given |= {name: sent[name] for name in ("sapwood", "knot_face", "show") if name in sent}
    given["book_matched"] = sent.get("book_matched", "") == "yes"
    if "own" in sent and sent["own"].split() != told["own"].split():
        given["own"] = read_own(sent["own"], view.boat.units)
        if strange := [rule.plank for rule in given["own"] if rule.plank not in view.kept.planks]:
            raise BadBoard(f"rules of single planks: there is no plank {strange[0]!r}.")
    keep_shop(view, replace(before, **given), sent)
    return "shop"


def _lay(view: View, _parcel: Parcel) -> str:
    """Begin laying all parts on all boards."""
    LAYINGS.begin(view, timber(view))
    return "laying"


def _stop(view: View, _parcel: Parcel) -> str:
    """Stop laying, with the best so far."""
    job = LAYINGS.latest(view)
    if job is not None:
        job.stop.set()
        job.done.wait(5.0)
    return "laying"


def _cut(view: View, parcel: Parcel) -> str:
    """A board is cut: its parts are done, its off-cuts go to the rack."""
    _as_on_page(view, timber(view), parcel, parcel.fields.get("board", ""), "It is cut as the parts lie now")
    keep_cut(view, timber(view), parcel.fields.get("board", ""))
    return "rack"


def _uncut(view: View, parcel: Parcel) -> str:
    """A board was noted as cut by mistake."""
    keep_uncut(view, timber(view), parcel.fields.get("board", ""))
    return "rack"


def _rip(view: View, _parcel: Parcel) -> str:
    """Laminations are ripped out of the boards on which no plank is laid."""
    found = _at_rest(view)
    ripped = rip(boards_free(found.boards, found.laying), strips_wanted(view), found.shop, seconds=RIP_SECONDS)
    store.keep_choice(view.file.engine, "layout", RIPPING, kept_ripping(ripped), who=who())
    return "ripping"


def _put(view: View, parcel: Parcel) -> str:
    """The builder puts a part in its place; held there."""
    name = parcel.fields.get("part", "")

    def step(found: Standing) -> tuple[dict[str, Any], Mapping[str, str]]:
        hand = in_hand(found, parcel.fields, view.boat.units)
        if hand is None or hand.said:
            raise BadBoard(hand.said if hand else f"{name!r} is not to be cut.")
        kept = hand_step(found, lambda laying: put(laying, hand.one))
        return kept, {name: told_place(hand.part, replace(hand.one, held=True), hand.units)}

    _step(view, parcel, step, "Put it where I had it", only=name)
    return part_path(name)


def _off(view: View, parcel: Parcel) -> str:
    """A part is taken off its board."""
    name = parcel.fields.get("part", "")
    _step(view, parcel, lambda found: (hand_step(found, lambda laying: taken_off(laying, name)), {name: NOWHERE}),
          "Take it off its board all the same", only=name)  # fmt: skip
    return "laying"


def _back(view: View, parcel: Parcel) -> str:
    """The last step by hand is taken back."""

    def step(found: Standing) -> tuple[dict[str, Any], Mapping[str, str]]:
        kept = step_back(found)
        return kept, told_places(found, kept, view.boat.units)

    _step(view, parcel, step, "Take the last step back all the same")
    return "laying"


def _let_go(view: View, parcel: Parcel) -> str:
    """Nothing is held any longer."""

    def step(found: Standing) -> tuple[dict[str, Any], Mapping[str, str]]:
        kept = hand_step(found, let_go)
        return kept, told_places(found, kept, view.boat.units)

    _step(view, parcel, step, "Hold none all the same")
    return "laying"


def _step(view: View, parcel: Parcel, step: Callable[[Standing], tuple[dict[str, Any], Mapping[str, str]]],
          again: str, only: str = "") -> None:  # fmt: skip
    """Keep the laying as a step by hand leaves it, unless what the step moves (`only` one part, or any) lies otherwise
    than on the page it was made from.
    """
    engine, units = view.file.engine, view.boat.units
    for more in reversed(range(_TRIES)):
        now, found = store.last_act(engine), _at_rest(view)
        kept, after = step(found)

        def of(laying: Mapping[str, Any] | None, found: Standing = found) -> Mapping[str, str]:
            places = told_places(found, laying, units)
            return {only: places.get(only, NOWHERE)} if only else places

        not_changed(engine, "layout", LAYING, parcel.fields, of, after, again=again)
        try:
            keep_laying(view, kept, seen=now)
        except Conflict:  # of another step, made while this one was
            if not more:
                raise
        else:
            return


def _as_on_page(view: View, found: Standing, parcel: Parcel, board: str, again: str) -> None:
    """Refuse what is done to a board on which other parts lie, or lie otherwise, than on the page it was sent from."""
    units = view.boat.units

    def of(laying: Mapping[str, Any] | None) -> Mapping[str, str]:
        there = {one["part"] for one in (laying or {}).get("placements", ()) if one["board"] == board}
        return {part: place for part, place in told_places(found, laying, units).items() if part in there}

    not_changed(view.file.engine, "layout", LAYING, parcel.fields, of, again=again)


def _at_rest(view: View) -> Standing:
    job = LAYINGS.latest(view)
    if job is not None and not job.done.is_set():
        raise BadBoard("the parts are being laid; stop that first.")
    return timber(view)


#: What can be done, by its word; each returns where the page goes on.
ACTS: Mapping[str, Callable[[View, Parcel], str]] = {
    "add": _add,
    "table": _table,
    "forget": _forget,
    "shop": _shop,
    "lay": _lay,
    "stop": _stop,
    "rip": _rip,
    "put": _put,
    "off": _off,
    "back": _back,
    "let-go": _let_go,
    "cut": _cut,
    "uncut": _uncut,
}


def _length(sent: Mapping[str, str], what: str, view: View) -> float:
    named = what.removesuffix("_mm").replace("_", " ")
    return read_length(named, sent.get(what, ""), view.boat.units)


def _number(text: str, what: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not (math.isfinite(value) and value >= 0):
        raise BadBoard(f"{what}: found {text!r}; expected a plain number, not below zero.")
    return value

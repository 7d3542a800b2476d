"""Standing: boards, parts and laying as they are now, from what is stored: boards added, boards cut, the last laying.

That a board is cut is one record: its parts, its off-cuts, and the laying it was cut from. Rack, parts still to be cut
and what is left of the laying follow from the records, so that a cut is stored whole or not at all, and one noted by
mistake is put right by a record that corrects it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from scrieve.errors import BadBoard, ScrieveError
from scrieve.planking import PlankDesign
from scrieve.stock.board import Board
from scrieve.stock.forms import board_from, mapping_of
from scrieve.stock.laying import Laying, single_parts
from scrieve.stock.layout import Shop, kept_laying, laying_from, laying_revision
from scrieve.stock.parts import Part, meet_at_nib, parts_of_plank, parts_past_nib
from scrieve.stock.result import result_of

#: Under what it is stored: kind of record of a board that is cut; names of the choices for rules and laying.
CUT = "board cut"
SHOP, LAYING = "rules", "laying"
#: An off-cut that was taken off the rack is stored so.
OFF: Mapping[str, Any] = {"off": True}
#: What a record holds that corrects a cut noted by mistake.
UNDONE: Mapping[str, Any] = {"undone": True}
#: So many steps by hand can be taken back.
MOST_BACK = 30

#: A plank: its name, its revision, and how it is designed.
Plank = tuple[str, str, Callable[[], PlankDesign]]


@dataclass(frozen=True, slots=True)
class Standing:
    """The rack, what is still to be cut, the shop's rules, and the laying as far as it has not been cut.

    `said` names planks of which no part can be made, and why; `cut` the parts already cut, with their boards; `sawn`
    the boards that are cut, with the numbers of their records. `stale` tells that boards, planks or rules are no longer
    those of the laying; `back` are the layings before it, newest last, as far as steps by hand can be taken back.
    """

    boards: tuple[Board, ...]
    parts: tuple[Part, ...]
    shop: Shop
    laying: Laying | None
    stale: bool
    cut: Mapping[str, str]
    sawn: Mapping[str, int]
    said: tuple[tuple[str, str], ...]
    made_from: str
    back: tuple[Mapping[str, Any], ...] = ()

    def may_add(self, boards: Iterable[Board]) -> None:
        """Raise BadBoard where a board would take the name of one that is in the rack, or that is cut."""
        racked = {board.name: board for board in self.boards}
        for board in boards:
            if board.name in self.sawn:
                raise BadBoard(f"board {board.name!r} has been cut already; give the new one another name.")
            if racked.get(board.name, board) != board:
                raise BadBoard(f"board {board.name!r} is in the rack already; take it off first, or give another name.")

    @property
    def at_hand(self) -> Laying:
        """The laying, or one of nothing laid yet."""
        if self.laying is not None:
            return self.laying
        parts = single_parts(self.parts)
        missing = tuple(part.name for part in parts)
        return Laying(self.boards, parts, self.shop.saw, self.shop.keep, (), missing, self.shop.seed, 0, False)


def standing(
    boards: Mapping[str, Mapping[str, Any]],
    cuts: Sequence[tuple[int, Mapping[str, Any]]],
    layout: Mapping[str, Mapping[str, Any]],
    planks: Iterable[Plank],
) -> Standing:
    """Return how things stand.

    Parameters
    ----------
    boards : mapping
        Boards as kept, by name; `OFF` for an off-cut that is no longer in the rack.
    cuts : sequence of (number, detail)
        The records of boards cut that stand, oldest first, as `cut_record` made them.
    layout : mapping
        What is kept under `SHOP` and `LAYING`.
    planks : iterable of (name, revision, design)
        `design` raises a ScrieveError where there is no plank.
    """
    own = tuple(planks)
    cuts = [(number, detail) for number, detail in cuts if not detail.get("undone")]
    shop = Shop.from_mapping(layout.get(SHOP))
    sawn = {str(detail["board"]): number for number, detail in cuts}
    off_cuts = [board_from(dict(one)) for _, detail in cuts for one in detail["off_cuts"]]
    typed = [board_from(dict(one)) for one in boards.values() if one != OFF]
    known = {board.name for board in typed} | {name for name, one in boards.items() if one == OFF}
    rack = tuple(board for board in [*typed, *(one for one in off_cuts if one.name not in known)]
                 if board.name not in sawn)  # fmt: skip
    cut = {str(part): str(detail["board"]) for _, detail in cuts for part in detail["parts"]}
    parts, said = _parts(own, shop)
    left = tuple(part for part in parts if part.name not in cut)
    made_from = laying_revision(rack, left, shop, {name: revision for name, revision, _ in own})
    kept = layout.get(LAYING)
    if kept is None:
        return Standing(rack, left, shop, None, False, cut, sawn, said, made_from)
    laying, of = laying_from(kept, rack, left, shop), str(kept["made_from"])
    for _, detail in cuts:  # each cut leaves the rest of its laying as it was
        if detail["made_from"] == of:
            of = str(detail["leaves"])
    back = tuple(kept.get("back", ())) if of == kept["made_from"] else ()
    return Standing(rack, left, shop, laying, of != made_from, cut, sawn, said, made_from, back)


def _parts(planks: Iterable[Plank], shop: Shop) -> tuple[list[Part], tuple[tuple[str, str], ...]]:
    parts: list[Part] = []
    said: list[tuple[str, str]] = []
    designs: dict[str, PlankDesign] = {}
    for name, _, design in planks:
        try:
            designs[name] = design()
        except ScrieveError as error:
            said.append((name, str(error)))
    past = {name: other for name, one in designs.items() for other, two in designs.items() if meet_at_nib(one, two)}
    for name, design_of in designs.items():
        own = shop.of(name)
        more: dict[str, Any] = {"rules": own.rules, "show": own.show, "book_matched": own.book_matched}
        try:
            if name in past:
                parts += parts_past_nib(design_of, designs[past[name]], **more)
            elif name not in past.values():
                parts += parts_of_plank(design_of, **more)
        except ScrieveError as error:
            said.append((name, str(error)))
    return parts, tuple(said)


def fresh(found: Standing) -> Laying:
    """Return the laying, to be worked on.

    Raises
    ------
    BadBoard
        It is out of date.
    """
    if found.stale:
        raise BadBoard("boards, planks or rules have changed since the parts were laid; lay them again first.")
    return found.at_hand


def cut_record(found: Standing, name: str, planks: Iterable[tuple[str, str]]) -> dict[str, Any]:
    """Return what is stored when a board is cut: one record, everything in it (kind `CUT`).

    A record of the same kind, `UNDONE`, that corrects it puts everything back.

    Parameters
    ----------
    found : Standing
    name : str
        The board.
    planks : iterable of (name, revision)

    Raises
    ------
    BadBoard
        Nothing is laid on it, or the laying is out of date.
    """
    laying = fresh(found)
    use = next((one for one in result_of(laying).uses if one.board.name == name), None)
    if use is None:
        raise BadBoard(f"nothing is laid on board {name!r}.")
    off_cuts = [one.board for one in use.off_cuts]
    done = {one.part for one in use.cuts}
    rack = (*(board for board in found.boards if board.name != name), *off_cuts)
    left = tuple(part for part in found.parts if part.name not in done)
    return {
        "board": name,
        "was": mapping_of(use.board),
        "parts": [one.part for one in use.cuts],
        "cuts": [asdict(one) for one in use.cuts],
        "off_cuts": [mapping_of(board) for board in off_cuts],
        "made_from": found.made_from,
        "leaves": laying_revision(rack, left, found.shop, dict(planks)),
    }


def uncut(found: Standing, name: str) -> int:
    """Return the number of the record to be corrected where a board was noted as cut by mistake.

    Raises
    ------
    BadBoard
        It is not cut, or an off-cut of it is cut already.
    """
    if name not in found.sawn:
        raise BadBoard(f"board {name!r} is not noted as cut.")
    later = next((one for one in found.sawn if one.startswith((f"{name} ", f"{name}/"))), None)
    if later is not None:
        raise BadBoard(f"its off-cut {later!r} is noted as cut too; put that right first.")
    return found.sawn[name]


def hand_step(found: Standing, step: Callable[[Laying], Laying]) -> dict[str, Any]:
    """Return what is stored when the builder changes the laying by hand; the laying before it stays at hand.

    Raises
    ------
    BadBoard
        The laying is out of date, or `step` cannot be done.
    """
    before = fresh(found)
    after = kept_laying(step(before), found.made_from)
    back = [*found.back, {"placements": kept_laying(before, found.made_from)["placements"]}]
    return {**after, "back": back[-MOST_BACK:]}


def step_back(found: Standing) -> dict[str, Any]:
    """Return what is stored when the last step by hand is taken back.

    Raises
    ------
    BadBoard
        There is none, or the laying is out of date.
    """
    laying = fresh(found)
    if not found.back:
        raise BadBoard("there is no step by hand to take back.")
    kept = {**kept_laying(laying, found.made_from), "placements": found.back[-1]["placements"]}
    return {**kept, "back": list(found.back[:-1])}

"""Layout: the rules of the shop for laying out, and a laying kept as plain values until boards or planks change."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, fields, replace
from typing import Any, Literal

from scrieve.errors import BadBoard
from scrieve.revision import revision
from scrieve.stock.board import Board
from scrieve.stock.forms import mapping_of
from scrieve.stock.laying import Keep, Laying, Placement, single_parts
from scrieve.stock.own_rules import OwnRule
from scrieve.stock.parts import Part, Rules, Sapwood, Show
from scrieve.stock.poses import Lie, Saw


@dataclass(frozen=True, slots=True)
class Shop:
    """How parts are laid in this shop; lengths in mm; shop defaults, no source.

    `grain_run` is the run to one of the grain's greatest slope against a part, 0 where it does not matter; the others
    as in `Rules`, `Saw`, `Keep` and `Part`. `seconds` is how long the search may take, `seed` what makes it repeatable;
    `own` are rules of single planks.
    """

    grain_run: float = 8.0
    sound_knot_mm: float = 0.0
    knot_face: Literal["inside", "any"] = "inside"
    sapwood: Sapwood = "never"
    defect_margin_mm: float = 5.0
    edge_margin_mm: float = 5.0
    kerf_mm: float = 4.0
    margin_mm: float = 3.0
    keep_length_mm: float = 900.0
    keep_width_mm: float = 100.0
    show: Show = ""
    book_matched: bool = False
    seconds: float = 30.0
    seed: int = 1
    own: tuple[OwnRule, ...] = ()

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        for field in fields(self):
            value = getattr(self, field.name)
            if isinstance(value, (int, float)) and not (math.isfinite(value) and value >= 0):
                raise BadBoard(f"{field.name.removesuffix('_mm').replace('_', ' ')}: {value:g}; give a value not below "
                               "zero.")  # fmt: skip
        for name, words in (("knot_face", ("inside", "any")), ("sapwood", ("never", "allowed")),
                            ("show", ("", "inside", "outside"))):  # fmt: skip
            if getattr(self, name) not in words:
                raise BadBoard(f"{name.replace('_', ' ')}: {getattr(self, name)!r}; say {' or '.join(words)}.")
        if not 1.0 <= self.seconds <= 600.0:
            raise BadBoard(f"seconds: {self.seconds:g}; give 1 to 600.")

    @property
    def rules(self) -> Rules:
        """What wood the parts will stand."""
        limit = math.atan(1 / self.grain_run) if self.grain_run > 0 else None
        return Rules(limit, self.sound_knot_mm, self.knot_face, self.sapwood, self.defect_margin_mm,
                     self.edge_margin_mm)  # fmt: skip

    def of(self, plank: str) -> Shop:
        """The rules as they hold for one plank."""
        rule = next((one for one in self.own if one.plank == plank), None)
        return replace(self, own=(), **(rule.changes() if rule else {}))

    @property
    def saw(self) -> Saw:
        """Kerf and margin."""
        return Saw(self.kerf_mm, self.margin_mm)

    @property
    def keep(self) -> Keep:
        """Which off-cuts are kept."""
        return Keep(self.keep_length_mm, self.keep_width_mm)

    def to_mapping(self) -> dict[str, Any]:
        """Plain values, as kept."""
        return asdict(self)

    @classmethod
    def from_mapping(cls, kept: Mapping[str, Any] | None) -> Shop:
        """Read what was kept; what a later version added stays at its default.

        Raises
        ------
        BadBoard
            A value cannot be.
        """
        known = {field.name for field in fields(cls)}
        values = {name: value for name, value in (kept or {}).items() if name in known}
        own = tuple(OwnRule(**one) for one in values.pop("own", ()))
        return cls(**values, own=own)


def laying_revision(
    boards: Sequence[Board], parts: Sequence[Part], shop: Shop, planks: Mapping[str, str] | None = None
) -> str:
    """Revision of what a laying is made from; how long was searched is no part of it.

    With `planks`, the revision of each plank, parts count by their names: outlines computed anew may differ in the last
    digit where nothing has changed.
    """
    rules = replace(shop, seconds=1.0, seed=0)
    wanted: list[Any] = [asdict(part) for part in parts]
    if planks is not None:
        wanted = [sorted(planks.items()), [part.name for part in parts]]
    rack = sorted(boards, key=lambda board: board.name)
    return revision([mapping_of(board) for board in rack], wanted, rules)


def kept_laying(laying: Laying, made_from: str) -> dict[str, Any]:
    """Return a laying as plain values; `made_from` is its revision."""
    return {
        "made_from": made_from,
        "placements": [asdict(one) for one in laying.placements],
        "seed": laying.seed,
        "rounds": laying.rounds,
        "stopped": laying.stopped,
    }


def laying_from(kept: Mapping[str, Any], boards: Sequence[Board], parts: Sequence[Part], shop: Shop) -> Laying:
    """Return a laying as it was kept, without what lies on boards, or is of parts, that are no more.

    Whether boards, parts or rules are still those it was made from is told by `kept["made_from"]`.
    """
    singles = single_parts(parts)
    names, racked = {part.name for part in singles}, {board.name for board in boards}
    placements = tuple(
        Placement(one["part"], one["board"], Lie(**one["lie"]), one["x_mm"], one["y_mm"], one["held"])
        for one in kept["placements"]
        if one["part"] in names and one["board"] in racked
    )
    laid = {one.part for one in placements}
    missing = tuple(part.name for part in singles if part.name not in laid)
    return Laying(tuple(boards), singles, shop.saw, shop.keep, placements, missing, kept["seed"], kept["rounds"],
                  kept["stopped"])  # fmt: skip

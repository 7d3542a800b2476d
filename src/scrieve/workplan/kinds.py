"""Kinds of operation for a frame pair and for a plank: who, with what, how long, and what waits behind them.

Every time here is a shop default: common practice, no source; the yard lays its own over them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

MemberKind = Literal["frame", "plank"]
#: Where a plank has glued joints: sheets scarfed into a panel at the bench, or an end scarfed to its neighbour as hung.
Glued = Literal["bench", "hull"]

#: Skills that people may have; anybody can lend a hand.
SKILLS: Mapping[str, str] = {
    "machines": "works at the machines",
    "bench": "works at the bench",
    "glue": "leads a glue-up",
    "hull": "works on the hull",
    "sign": "signs hold points",
}

#: Machines and how many there are, unless the yard says otherwise.
MACHINES: Mapping[str, int] = {"saw": 1, "planer": 1, "bandsaw": 1, "steam box": 1}

#: Waits: what for, and whether hours by the clock are typed for it or the glue's data sheet and the shed tell.
WAITS: Mapping[str, str] = {
    "moisture": "stock settles to its moisture",
    "clamps": "cure in the clamps",
    "full cure": "cure to full strength",
    "paint": "priming dries",
}


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of operation.

    `minutes` of work by `people` together, of whom one at the least has `skill`; `machine` is taken throughout, and the
    jig from `jig` 'from' to `jig` 'to'. `one_go` work is not left over a closing of the shop. `hold`: a hold point,
    which is signed by a name, and until then blocks what follows. `wait` must pass by the clock before the next begins.
    """

    key: str
    words: str
    minutes: float
    people: int = 1
    skill: str = "bench"
    machine: str = ""
    one_go: bool = False
    hold: bool = False
    wait: str = ""


FRAME: tuple[Kind, ...] = (
    Kind("stock", "get out stock", 120, skill="machines", machine="saw", wait="moisture"),
    Kind("plane", "plane laminations", 90, skill="machines", machine="planer"),
    Kind("set", "set the jig", 30, one_go=True),
    Kind("dry", "dry run", 45, people=2, skill="glue", one_go=True),
    Kind("glue", "glue and clamp", 60, people=2, skill="glue", one_go=True, wait="clamps"),
    Kind("release", "release and measure", 45, skill="glue", one_go=True),
    Kind("accept", "sign: measured shape accepted", 15, skill="sign", one_go=True, hold=True),
    Kind("rip", "rip the pair", 60, people=2, skill="machines", machine="saw", one_go=True),
    Kind("clean", "clean up both halves", 120),
    Kind("bevel", "bevel both halves", 180),
    Kind("prime", "prime", 45, wait="paint"),
    Kind("shore", "shores and spalls", 120, people=2, skill="hull"),
    Kind("shored", "sign: shored, hull true", 15, skill="sign", one_go=True, hold=True),
    Kind("out", "take out the old pair", 240, skill="hull"),
    Kind("fit", "fit the pair, port and starboard together", 360, people=2, skill="hull"),
    Kind("fasten", "fasten", 180, people=2, skill="hull"),
    Kind("inspect", "sign: pair inspected", 30, skill="sign", one_go=True, hold=True),
)

PLANK: tuple[Kind, ...] = (
    Kind("stock", "get out stock", 60, people=2, skill="machines", machine="saw", wait="moisture"),
    Kind("plane", "plane to thickness", 60, people=2, skill="machines", machine="planer"),
    Kind("scarf", "cut and glue scarfs", 120, people=2, skill="glue", one_go=True, wait="full cure"),
    Kind("shape", "mark and saw to shape", 90, people=2, skill="machines", machine="bandsaw"),
    Kind("edges", "bevel edges, back out", 150),
    Kind("prime", "prime the inside", 30, wait="paint"),
    Kind("shore", "shores and spalls", 60, people=2, skill="hull"),
    Kind("shored", "sign: shored, hull true", 15, skill="sign", one_go=True, hold=True),
    Kind("out", "take the old plank off", 120, skill="hull"),
    Kind("landings", "clean and prime landings", 60, skill="hull"),
    Kind("hang", "steam and hang", 90, people=2, skill="hull", machine="steam box", one_go=True),
    Kind("fasten", "fasten", 90, skill="hull"),
    Kind("inspect", "sign: plank inspected", 15, skill="sign", one_go=True, hold=True),
    Kind("caulk", "caulk and stop seams", 150, skill="hull"),
)

KINDS: Mapping[MemberKind, tuple[Kind, ...]] = {"frame": FRAME, "plank": PLANK}

#: What must be done before what, besides each kind after the one before it; and where that row is broken.
#: The new pair is made beside the shoring of the hull; the old comes out once both are done.
_BREAKS = {"frame": {"shore"}, "plank": {"shore"}}
_MORE: Mapping[MemberKind, tuple[tuple[str, str], ...]] = {
    "frame": (("glue", "rip"), ("prime", "fit")),
    "plank": (("prime", "hang"),),
}
#: Waits that hang on another link than that to the next kind.
_LINK_WAITS: Mapping[tuple[MemberKind, str, str], str] = {
    ("frame", "glue", "rip"): "full cure",
    ("frame", "prime", "fit"): "paint",
    ("plank", "prime", "hang"): "paint",
}

#: The hull is open from the start of the first of these to the end of the second.
OPEN = ("out", "inspect")
#: A frame holds its jig from the start of the first to the end of the second.
ON_JIG = ("set", "release")


def kind_of(member: MemberKind, key: str) -> Kind:
    """One kind by its key."""
    return next(each for each in KINDS[member] if each.key == key)


def kinds_for(member: MemberKind, glued: Sequence[Glued] = ()) -> tuple[Kind, ...]:
    """The operations of one member in order; scarfs of a plank are glued at the bench only where it has some.

    Examples
    --------
    >>> [len(kinds_for("plank", glued)) for glued in ((), ("hull",), ("bench",))]
    [13, 13, 14]
    """
    return tuple(kind for kind in KINDS[member] if kind.key != "scarf" or "bench" in glued)


def links(member: MemberKind, ready_first: bool, glued: Sequence[Glued] = ()) -> tuple[tuple[str, str, str], ...]:
    """(before, after, wait) of one member's operations; with `ready_first` the old comes out once the new is primed.

    A scarf glued on the hull is in its clamps until the plank is looked at, and at full strength before it is caulked.
    """
    row = kinds_for(member, glued)
    found: list[tuple[str, str, str]] = []
    for before, after in pairwise(row):
        if after.key not in _BREAKS[member]:
            found.append((before.key, after.key, before.wait))
    for first, then in _MORE[member]:
        found.append((first, then, _LINK_WAITS[member, first, then]))
    if ready_first:
        found.append(("prime", "out", "paint"))
    if "hull" in glued:
        found += [("hang", "inspect", "clamps"), ("hang", "caulk", "full cure")]
    return tuple(found)

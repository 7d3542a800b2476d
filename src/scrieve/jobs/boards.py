"""Laying parts on boards, as a job; the laying is kept with the boat."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from sqlalchemy import Engine

from scrieve import store
from scrieve.jobs.kinds import Kind, Tick
from scrieve.jobs.plain import plain, read
from scrieve.stock.by_hand import held
from scrieve.stock.laying import Progress, lay_parts
from scrieve.stock.layout import kept_laying
from scrieve.stock.standing import LAYING, Standing

#: More rounds than any search is given time for.
MOST_ROUNDS = 100_000


def asked(found: Standing) -> dict[str, Any]:
    """Return what the job is given: the rack, the parts and the rules as they stand. What is held stays in place."""
    return {"standing": plain(replace(found, back=()))}


def lay(given: Mapping[str, Any], tick: Tick) -> Any:
    """Lay all parts on all boards, for as long as the shop's rules say; return the laying as it is kept."""
    found: Standing = read(given["standing"])
    shop = found.shop

    def told(so_far: Progress) -> bool:
        return tick("laying", min(so_far.laid / max(so_far.parts, 1), 1.0), plain(so_far))

    laying = lay_parts(found.boards, found.parts, saw=shop.saw, keep=shop.keep, seed=shop.seed, rounds=MOST_ROUNDS,
                       held=held(found.laying, found.boards, [part.name for part in found.at_hand.parts]),
                       seconds=shop.seconds, progress=told)  # fmt: skip
    return plain(kept_laying(laying, found.made_from))


def keep(engine: Engine, _what: Mapping[str, Any], result: Any, key: str, who: str) -> None:
    """Keep the laying with the boat."""
    store.keep_choice(engine, "layout", LAYING, read(result), key=key, who=who)


KIND = Kind(f"{__name__}:lay", keep=keep)

"""Two people changed the same thing: what each of them saw and made of it, and what both together would be."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from scrieve.errors import ScrieveError

#: Stands where a value has nothing there.
ABSENT = object()


@dataclass(frozen=True, slots=True)
class Difference:
    """One value that somebody changed: its path, what was seen, what it is now, and what was sent."""

    path: tuple[str, ...]
    seen: Any
    now: Any
    sent: Any

    @property
    def both_changed(self) -> bool:
        """Whether both changed it, and not to the same."""
        return bool(self.seen != self.now and self.seen != self.sent and self.now != self.sent)


class Conflict(ScrieveError):
    """What was sent would write over a change that its sender has not seen; nothing was stored.

    `seen` is the value that the sender's page showed, `now` what somebody else has made of it since (by `who`, `at`),
    `sent` what was sent; each None where there is none. `act` is the act to name as seen when sending again. `again` is
    said of an act that is whole (a part is put on a board): it is done all the same, or not; there is no both.
    """

    def __init__(
        self, what: str, seen: Any, now: Any, sent: Any, *, who: str = "", at: str = "", act: int = 0, again: str = ""
    ) -> None:
        by = f" by {who}" if who else ""
        super().__init__(
            f"{what} was changed{by} after this was opened; nothing was stored. Look at both, and say which stands."
        )
        self.what, self.seen, self.now, self.sent = what, seen, now, sent
        self.who, self.at, self.act, self.again = who, at, act, again

    @property
    def differences(self) -> tuple[Difference, ...]:
        """Every value that one of the two has changed."""
        return tuple(_differences((), self.seen, self.now, self.sent))

    @property
    def both(self) -> Any:
        """What was sent where it was changed, else what is there now; None where both changed one value."""
        if self.again or any(each.both_changed for each in self.differences):
            return None
        return merged(self.seen, self.now, self.sent)


def merged(seen: Any, now: Any, sent: Any) -> Any:
    """Return `sent` where it differs from `seen`, else `now`; mappings, and lists of what has a name, are gone into.

    Examples
    --------
    >>> merged({"a": 1, "b": {"c": 2}}, {"a": 1, "b": {"c": 3}}, {"a": 9, "b": {"c": 2}})
    {'a': 9, 'b': {'c': 3}}
    >>> ann, bo, cy = {"name": "Ann"}, {"name": "Bo"}, {"name": "Cy"}
    >>> merged([ann], [ann, bo], [ann, cy])
    [{'name': 'Ann'}, {'name': 'Bo'}, {'name': 'Cy'}]
    """
    sides = [_by_name(side) for side in (seen, now, sent)]
    if all(side is not None for side in sides):
        names = dict.fromkeys(name for side in sides[1:] for name in side or {})
        each = ((n, merged(*((side or {}).get(n, ABSENT) for side in sides))) for n in names)
        both = {name: value for name, value in each if value is not ABSENT}
        return both if isinstance(now, Mapping) else list(both.values())
    return now if sent == seen else sent


def _by_name(side: Any) -> Mapping[str, Any] | None:
    """Return a mapping, or a list of things that each have their own name by that name; None of anything else."""
    if isinstance(side, Mapping):
        return side
    if not isinstance(side, list) or not all(isinstance(each, Mapping) and "name" in each for each in side):
        return None
    named = {str(each["name"]): each for each in side}
    return named if side and len(named) == len(side) else None


def _differences(path: tuple[str, ...], seen: Any, now: Any, sent: Any) -> Iterator[Difference]:
    if seen == now == sent:
        return
    sides = seen, now, sent
    found = [_by_name(side) for side in sides]
    if any(named is not None for named in found) and all(
        named is not None or side is None or side is ABSENT for named, side in zip(found, sides, strict=True)
    ):
        whole = [named or {} for named in found]
        for name in dict.fromkeys(name for side in whole for name in side):
            yield from _differences((*path, str(name)), *(side.get(name, ABSENT) for side in whole))
        return
    yield Difference(path, *(None if side is ABSENT else side for side in sides))

"""What was computed last, kept at hand under the revision it was computed from."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable
from threading import Lock
from typing import Generic, TypeVar

T = TypeVar("T")


class AtHand(Generic[T]):
    """The last `most` values, by key. Two requests may make the same value at once; neither waits for the other."""

    def __init__(self, most: int) -> None:
        self._kept: OrderedDict[Hashable, T] = OrderedDict()
        self._most, self._lock = most, Lock()

    def get(self, key: Hashable, make: Callable[[], T]) -> T:
        """Return the value under `key`, made now if need be; a fault in making it is not kept."""
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
                return self._kept[key]
        found = make()
        self.put(key, found)
        return found

    def peek(self, key: Hashable) -> T | None:
        """Return the value under `key`, or None; nothing is made."""
        with self._lock:
            return self._kept.get(key)

    def put(self, key: Hashable, value: T) -> None:
        """Keep `value` under `key`, in place of what was there."""
        with self._lock:
            self._kept[key] = value
            self._kept.move_to_end(key)
            while len(self._kept) > self._most:
                self._kept.popitem(last=False)

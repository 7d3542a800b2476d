"""Taken: what a file of marks holds, whichever way they were taken off."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from scrieve.takeoff.marks import Mark


@dataclass(frozen=True, slots=True)
class Taken:
    """What a file of marks holds: the marks of its good rows, one text per bad cell, and what to look at besides."""

    marks: tuple[Mark, ...]
    bad: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()

    @property
    def raw(self) -> tuple[Mapping[str, Any], ...]:
        """What was read for each mark, in the order of `marks`; empty for plain offsets."""
        return tuple(mark.readings for mark in self.marks)

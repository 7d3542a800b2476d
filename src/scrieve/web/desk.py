"""A boat as pages see it, for a command: no request, and whoever sits at this machine asks."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from functools import cached_property
from pathlib import Path

from scrieve.store import Place
from scrieve.web.boatfile import BoatFile, Fairing
from scrieve.web.views import View

#: Longest that a command waits for the hull [s].
_PATIENCE_S = 3600.0


class DeskView(View):
    """What a command sees of one state of a boat; it waits for the hull instead of asking again."""

    def __init__(self, file: BoatFile) -> None:
        self.file = file
        self.state = file.state()

    @cached_property
    def fairing(self) -> Fairing:
        """The hull, faired."""
        return self.file.fairing(self.state, _PATIENCE_S)


@contextmanager
def at_desk(boat: Path | Place) -> Iterator[DeskView]:
    """Open a boat for a command and let go of her again; raises BadBoat where she is none of ours."""
    file = BoatFile(boat)
    try:
        yield DeskView(file)
    finally:
        file.engine.dispose()

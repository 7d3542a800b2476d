"""The pages: the boat, a frame, a plank, and the links to their sheets, served from this machine.

The application is loaded when it is asked for: commands share what a page keeps without starting all of the pages.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from scrieve.web.app import create_app
    from scrieve.web.server.serving import serve

__all__ = ["create_app", "serve"]


def __getattr__(name: str) -> Any:
    if name == "create_app":
        from scrieve.web.app import create_app

        return create_app
    if name == "serve":
        from scrieve.web.server.serving import serve

        return serve
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")

"""The pages: the boat, a frame, a plank, and the links to their sheets, served from this machine."""

from scrieve.web.app import create_app
from scrieve.web.serving import serve

__all__ = ["create_app", "serve"]

"""Scrieve: from marks taken off an old wooden hull to the frames and planks that put it right."""

__version__ = "0.1.0"

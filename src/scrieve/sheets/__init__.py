"""Sheets: one drawing model written as SVG, DXF and PDF; bench sheets and full-size patterns."""

from scrieve.sheets.drawing import Drawing
from scrieve.sheets.svg import page_svg, to_svg

__all__ = ["Drawing", "page_svg", "to_svg"]

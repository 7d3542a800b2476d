"""Sheets: one drawing model written as SVG, DXF and PDF; bench sheets and full-size patterns."""

"""Plane curves, space curves and surfaces; knows nothing of boats."""

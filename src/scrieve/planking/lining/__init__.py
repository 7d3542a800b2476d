"""Lining off: seams as fair lines on the hull, and the widths of the strakes."""

"""The bevels of one frame along its girth: the hull's own as a line, what was read off the bevel board beside it."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from scrieve.fairing.bevel_board import BevelOff
from scrieve.fairing.section import Section
from scrieve.sheets.drawing import Circle, Drawing, Item, Line, Text, polyline, shorten
from scrieve.sheets.figures import sized
from scrieve.units import Units

#: The paper's room for girth and degrees, and its lettering [mm].
_WIDE_MM, _HIGH_MM, _LETTER_MM = 110.0, 56.0, 2.6
_STEPS_DEG = (1.0, 2.0, 5.0, 10.0, 20.0, 30.0)


def bevel_drawing(
    section: Section, offs: Sequence[BevelOff], tolerance_rad: float, units: Units, title: str
) -> Drawing:
    """Return the bevels of a frame against girth from the heel, as from its fore face: standing up, under down.

    Parameters
    ----------
    section : Section
        The fair line of the frame.
    offs : sequence of BevelOff
        The readings of this frame.
    tolerance_rad : float
        What a reading may differ by: dotted on both sides of the line [rad].
    units : Units
        For the girth.
    title : str
    """
    every = np.concatenate([np.degrees(section.bevel_rad), [math.degrees(off.reading.slope_rad) for off in offs], [0]])
    tolerance = math.degrees(tolerance_rad)
    low, high = float(every.min()) - tolerance, float(every.max()) + tolerance
    across, up = _WIDE_MM / section.girth_mm, _HIGH_MM / (high - low)
    step = next((each for each in _STEPS_DEG if (high - low) / each <= 7), _STEPS_DEG[-1])
    items: list[Item] = []
    for k in range(math.ceil(low / step), math.floor(high / step) + 1):
        y = k * step * up
        items.append(Line((0.0, y), (_WIDE_MM, y), "GRID" if k else "DATUM LINE"))
        words = "square" if k == 0 else f"{abs(k * step):g}°{' under' if k < 0 else ''}"
        items.append(Text((-2.0, y), words, _LETTER_MM, "TEXT", "right", "middle"))
    places, degrees = section.s_mm * across, np.degrees(section.bevel_rad)
    line = np.column_stack([places, degrees * up])
    items.append(polyline(line, "MOULDED LINE", title="the fair hull's own bevel"))
    items += [polyline(np.column_stack([places, (degrees + side * tolerance) * up]), "BAND") for side in (-1, 1)]
    foot = low * up - 2.0
    items += [
        Text((0.0, foot), "heel", _LETTER_MM, "TEXT", "left", "top"),
        Text((_WIDE_MM, foot), f"head, {sized(section.girth_mm, units)} of girth", _LETTER_MM, "TEXT", "right", "top"),
    ]
    for off in offs:
        sense = 1 if off.reading.face == "fore" else -1
        at = (off.s_mm * across, math.degrees(off.reading.slope_rad) * up)
        there = (at[0], math.degrees(off.hull_rad) * sense * up)
        name = " ".join(filter(None, (shorten(off.reading.label, 10), off.reading.side)))
        if math.isfinite(off.hull_sd_rad):
            most = math.degrees(2 * off.hull_sd_rad) * up
            items.append(Line((at[0], there[1] - most), (at[0], there[1] + most), "MOULDED LINE"))
        if off.differs:
            items.append(Line(there, at, "MARKS"))
        items.append(Circle(at, 1.1, "MARKS", filled=off.differs, title=name or "a reading"))
        if name:
            above = at[1] >= there[1]
            foot_of = (at[0], at[1] + (1.9 if above else -1.9))
            items.append(Text(foot_of, name, _LETTER_MM, "FIGURES", "middle", "baseline" if above else "top"))
    return Drawing(tuple(items), title, times=None)

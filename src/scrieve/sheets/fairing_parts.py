"""Parts that the drawings to fair by share: a usual stretch, teeth of a comb, lettering that finds room."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np

from scrieve.fairing.section import Section
from scrieve.sheets.drawing import Align, Array, Circle, Drawing, Item, Line, Point, Polyline, Text, plain, polyline
from scrieve.sheets.figures import sized
from scrieve.units import Units

USUAL = (1, 2, 5, 10, 20, 50, 100, 200)
SIDE = {"P": "port", "S": "starboard", "": "both sides"}
#: Lettering that is wanted: where, which way it may stand off, text, height, layer, title, least distance in letters.
Note = tuple[Array, Array, str, float, str, str, float]


@dataclass
class Lettering:
    """Where lettering and dots stand already, so that more lettering finds room beside them."""

    words: list[tuple[float, float, float, float]] = field(default_factory=list)
    dots: list[tuple[float, float, float, float]] = field(default_factory=list)

    def take(self, items: Iterable[Item]) -> None:
        """Note what stands on the drawing."""
        for part in (part for item in items for part in plain(item)):
            if isinstance(part, Text):
                self.words.append(_box(part))
            elif isinstance(part, Circle):
                (x, y), r = part.at, part.radius_mm
                self.dots.append((x - r, y - r, x + r, y + r))
            elif isinstance(part, Polyline) and part.layer == "MARKS":
                self.dots += [(x, y, x, y) for x, y in part.points.tolist()]

    def beside(self, at: Array, way: Array, text: str, h: float, layer: str, title: str, first: float) -> list[Item]:
        """Lettering near `at`, out along `way` or turned from it, clear of words and, if it can be, of dots.

        Where it stands far off, a thin leader joins it to `at`.
        """
        angles = np.radians([0, 25, -25, 50, -50, 80, -80, 120, -120, 180])
        tries = [(away * h, angle) for away in np.arange(first, 20.0, 1.0) for angle in angles]
        for clear in ([*self.words, *self.dots], self.words):
            for away, angle in tries:
                turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]]) @ way
                place = at + turn * away
                align: Align = "left" if turn[0] >= 0 else "right"
                made = Text(pt(place), text, h, layer, align, "middle", title=title)
                x0, y0, x1, y1 = _box(made, 0.35 * h)
                if all(x1 <= a or x0 >= c or y1 <= b or y0 >= d for a, b, c, d in clear):
                    self.take([made])
                    return [*([Line(pt(at), pt(place), "DIMENSIONS")] if away > 1.5 * h else []), made]
        return []  # nothing is lost: the dot's own title says the same


def _box(text: Text, room: float = 0.0) -> tuple[float, float, float, float]:
    low, high = text.corners().min(axis=0) - room, text.corners().max(axis=0) + room
    return (float(low[0]), float(low[1]), float(high[0]), float(high[1]))


def usual_stretch(most_mm: float, room_mm: float) -> float:
    """Return the largest usual number by which `most_mm` is stretched and still fits `room_mm`; 1 at least."""
    return float(next((k for k in reversed(USUAL) if k * most_mm <= room_mm), 1))


def tooth_scale(curvatures: Sequence[Array], room_mm: float) -> float:
    """Length of a tooth for a curvature of 1/mm: the greater curvatures fill the room, but for sharp corners."""
    most = float(np.quantile(np.abs(np.concatenate(list(curvatures))), 0.95))
    return room_mm / most if most > 0 else 0.0


def teeth(feet: Array, tips: Array, flip: Array, title: str) -> list[Item]:
    """Return the teeth of a comb from feet to tips (n, 2), turned to one hand by `flip`, and the line of their tips."""
    hairs: list[Item] = [Line(pt(a * flip), pt(b * flip), "HATCHING") for a, b in zip(feet, tips, strict=True)]
    return [*hairs, polyline(tips * flip, "RAILS", title=title)]


def comb(
    section: Section, hand: int, size: float, most_mm: float, *, feet: Array | None = None, teeth_drawn: bool = True
) -> list[Item]:
    """Return the comb of a section on one hand (1 right, -1 left): teeth of curvature times `size`, `most_mm` at most.

    They stand on the outside where the frame is hollow inboard; on `feet` (n, 2) where these are not the section's own
    points. Without `teeth_drawn` the line of the tips stands alone.
    """
    normal = np.column_stack([np.sin(section.direction_rad), -np.cos(section.direction_rad)])
    stand = section.points_mm if feet is None else feet
    tips = stand + normal * np.clip(section.curvature_per_mm * size, -most_mm, most_mm)[:, None]
    drawn = teeth(stand, tips, np.array([hand, 1.0]), f"curvature of frame {section.frame}")
    return drawn if teeth_drawn else drawn[-1:]


def comb_words(size: float, units: Units, h: float) -> str:
    """Say how the teeth of a comb are read: the radius for which a tooth is ten letters high, rounded."""
    radius = size / (10 * h) if size else 0.0
    usual = float(f"{radius:.1g}")
    tooth = size / usual if usual else 0.0
    said = f"; tooth of {sized(tooth, units)}: radius {sized(usual, units)}" if usual else ""
    return f"comb: curvature, outside where hollow inboard{said}"


def with_words(
    plan: Drawing, items: Sequence[Item], words: Sequence[str], h: float, title: str, foot: float | None = None
) -> Drawing:
    """The drawing with more items and a few lines of explanation under it."""
    whole = Drawing((*plan.items, *items), title, plan.one_to)
    left, bottom, _, _ = whole.bounds
    below = bottom if foot is None else min(foot, bottom)
    said = [Text((left, below - (1.8 + 1.7 * row) * h), text, 0.85 * h) for row, text in enumerate(words)]
    return Drawing((*whole.items, *said), title, plan.one_to)


def pt(p: Array) -> Point:
    """Return a point as two plain numbers."""
    return (float(p[0]), float(p[1]))

"""One frame enlarged, both hands, to fair by: its line, its marks to be taken hold of, and a trial on what is stored.

A millimetre cannot be seen on a line of metres. The stored line is drawn where it is; all that departs from it (marks,
band, and the line as a trial has it) is drawn a usual number of times larger, measured from the stored line.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cached_property

import numpy as np

from scrieve.fairing.result import FairHull
from scrieve.sheets.drawing import Array, Circle, Drawing, Item, Line, Text, one_to, polyline, shorten
from scrieve.sheets.fairing_parts import (
    SIDE,
    Lettering,
    Note,
    comb,
    comb_words,
    pt,
    tooth_scale,
    usual_stretch,
    with_words,
)
from scrieve.sheets.figures import length, off_by, thin_unit
from scrieve.sheets.hull import LETTER_MM, level_heights, levels
from scrieve.units import Units

#: Points from heel to head; and the room of the drawing on paper [mm].
_POINTS, _ROOM_MM = 121, (190.0, 150.0)
#: How far a departure is drawn at most, in letters.
_FAR = 6.0
_HANDS = {"P": (-1,), "S": (1,), "": (1, -1)}


class FrameView:
    """One frame of a stored hull as it is drawn; `drawn` lays a trial on it, its bounds and lettering staying still.

    Parameters
    ----------
    hull : FairHull
        The hull as stored, laid through marks.
    frame : str
        Label of one of its frames.
    bands, whiskers, combs : bool
        Whether the ± band (2 standard deviations), the departures of the marks, and the curvature comb are drawn.
    teeth_times : float
        How much longer than usual the teeth of the comb are.
    stretch : float, optional
        Number by which departures are stretched; a usual one that fits, unless given.
    link : callable
        Address for the mark of a number: its dot leads there.
    units : str
        How the builder reads lengths.

    Raises
    ------
    NoSuchFrame
        The hull has no such frame.
    """

    def __init__(
        self,
        hull: FairHull,
        frame: str,
        *,
        bands: bool = True,
        whiskers: bool = True,
        combs: bool = False,
        teeth_times: float = 1.0,
        stretch: float | None = None,
        link: Callable[[int], str] = lambda number: "",
        units: Units = "mm",
    ) -> None:
        self.hull, self.bands, self.whiskers, self.combs = hull, bands, whiskers, combs
        self.link, self.units = link, units
        self.frame, self.x = hull.station_of(frame)
        self.share = np.unique(np.concatenate([np.linspace(0, 1, _POINTS), hull.features]))
        self.line = self._line(hull)
        (beam, high), low = self.line.max(axis=0).tolist(), float(self.line[:, 1].min())
        self.one_to = one_to(2 * beam * 1.2, (high - low) * 1.2, _ROOM_MM)
        self.h = LETTER_MM * self.one_to
        self.offs = [off for off in hull.offs if off.frame == self.frame]
        usual = np.abs([off.residual_mm for off in self.offs if off.counts] or [0.0])
        width = 2 * hull.sd_mm(np.full(9, self.x), np.linspace(0, 1, 9))
        most = float(np.quantile(np.concatenate([usual, width]), 0.9))
        self.stretch = usual_stretch(most, 2.5 * self.h) if stretch is None else stretch
        section = hull.section(self.frame, 81)
        self.tooth = teeth_times * tooth_scale([section.curvature_per_mm], 3.0 * self.h)
        self.most_tooth = 3.5 * teeth_times * self.h
        self.room = (_FAR + 1) * self.h + (self.most_tooth if combs else 0.0)
        v = np.array([off.v for off in self.offs])
        #: Where each mark stands on the stored line (n, 2) [mm], and the outward normal there.
        self.feet = hull.fit.value(np.full(len(v), self.x), v)
        self.normals, _ = hull.normal(np.full(len(v), self.x), v)

    def _line(self, hull: FairHull) -> Array:
        """(n, 2) half-breadth and height at `share`."""
        return hull.fit.value(np.full(len(self.share), self.x), self.share)

    def enlarged(self, away: Array) -> Array:
        """Return departures (n, 2) from the stored line as drawn: stretched, and cut short where that runs too far."""
        drawn = away * self.stretch
        size = np.hypot(*drawn.T)
        return np.asarray(drawn * np.minimum(1.0, _FAR * self.h / np.maximum(size, 1e-9))[:, None])

    @cached_property
    def _still(self) -> tuple[Item, ...]:
        """What no trial moves: heights, centreline, the stored line, names of the marks."""
        h = self.h
        (beam, high), low = self.line.max(axis=0).tolist(), float(self.line[:, 1].min())
        reach = beam + self.room
        items = levels(level_heights(low, high, self.units), -reach, reach, h, self.units)
        items.append(Line((0.0, low - self.room), (0.0, high + self.room), "CENTRELINE"))
        items.append(Text((reach, low - self.room), "starboard", h, align="right"))
        items.append(Text((-reach, low - self.room), "port", h))
        labels = Lettering()
        labels.take(items)
        by_number = {mark.number: mark for mark in self.hull.laid.marks} if self.hull.laid else {}
        notes: list[Note] = []
        for off, foot, out in zip(self.offs, self.feet, self.normals, strict=True):
            mark = by_number.get(off.number)
            name = mark.label or mark.kind or length(mark.height_mm, self.units) if mark else ""
            away = float(np.clip(off.residual_mm * self.stretch, -_FAR * h, _FAR * h))
            for hand in _HANDS[off.side]:
                at, way = foot * (hand, 1), -out * (hand, 1)
                labels.take([Circle(pt(place), 0.4 * h, "SECTIONS") for place in (at, at + out * away * (hand, 1))])
                notes.append((at, way, shorten(name, 8), 0.8 * h, "TEXT", "", 2.0))
        for note in notes:
            items += [item for item in labels.beside(*note) if isinstance(item, Text)]
        return tuple(items)

    def drawn(self, trial: FairHull | None = None, chosen: int | None = None) -> Drawing:
        """Return the drawing, of what is stored or of a trial on it; the chosen mark is ringed.

        With a trial the stored line is dashed and the trial's is heavy. Its bounds are those of the drawing without.
        """
        hull = trial or self.hull
        now = self._line(hull)
        away = self.enlarged(now - self.line)
        shown = self.line + away
        items = list(self._still)
        x = np.full(len(self.share), self.x)
        edges: list[Array] = []
        if self.bands:
            normal, _ = hull.normal(x, self.share)
            half = normal * 2 * hull.sd_mm(x, self.share)[:, None]
            edges = [self.line + self.enlarged(now - self.line + side * half) for side in (1, -1)]
        for hand in (1, -1):
            flip = np.array([hand, 1.0])
            if trial is not None:
                items.append(polyline(self.line * flip, "OTHER FACE", title="as stored"))
            items.append(polyline(shown * flip, "MOULDED LINE", title="trial" if trial else "fair line"))
            items += [polyline(edge * flip, "BAND", title="± 2 sd") for edge in edges]
        if self.combs:
            section = hull.section(self.frame, 81)
            along = np.r_[0.0, np.cumsum(np.hypot(*np.diff(now, axis=0).T))]
            feet = section.points_mm + np.column_stack([np.interp(section.s_mm, along, axis) for axis in away.T])
            for hand in (1, -1):
                items += comb(section, hand, self.tooth, self.most_tooth, feet=feet)
        if self.whiskers and hull.laid is not None:
            items += self._marks(hull, shown, chosen)
        title = f"Frame {self.frame}, both hands"
        return with_words(Drawing(tuple(items), "", self.one_to), [], self._words(trial is not None), self.h, title)

    def _marks(self, hull: FairHull, shown: Array, chosen: int | None) -> list[Item]:
        assert hull.laid is not None
        h, items = self.h, list[Item]()
        laid = {mark.number: point for mark, point in zip(hull.laid.marks, hull.laid.points, strict=True)}
        now = {off.number: off for off in hull.offs if off.frame == self.frame}
        dots = self.feet + self.enlarged(np.array([laid[off.number] for off in self.offs]) - self.feet)
        share = np.array([now[off.number].v for off in self.offs])
        x = np.full(len(share), self.x)
        stored = self.hull.fit.value(x, share)
        feet = stored + self.enlarged(hull.fit.value(x, share) - stored)
        for before, dot, foot in zip(self.offs, dots, feet, strict=True):
            off = now[before.number]
            if off.number == chosen:  # it may have been moved along the line
                foot = shown[np.hypot(*(shown - dot).T).argmin()]
            layer = "MARKS" if off.suspect else "SECTIONS"
            said = f"{SIDE[off.side]}: {off_by(off.residual_mm, self.units)} {thin_unit(self.units)}"
            title = f"mark {off.number}, {said}{', suspect' if off.suspect else ''}"
            for hand in _HANDS[off.side]:
                at, start = pt(dot * (hand, 1)), pt(foot * (hand, 1))
                items.append(Line(start, at, layer))
                items.append(Circle(at, 0.3 * h, layer, off.side != "P", self.link(off.number), title))
                if off.suspect:
                    items.append(Circle(at, 0.6 * h, layer))
                if off.number == chosen:
                    items.append(Circle(at, 0.95 * h, "JIG FACE", title="chosen"))
        return items

    def _words(self, tried: bool) -> list[str]:
        k = self.stretch
        scale = f"drawn {k:g} times" if k != 1 else "at their own scale"
        words = [f"departures and band (± 2 sd) from the stored line {scale}"]
        if self.whiskers:
            words.append("open: port, filled: starboard or both; ringed in red: suspect")
        if self.combs:
            words.append(comb_words(self.tooth, self.units, self.h))
        words.append("dashed: as stored; heavy: a trial, of which nothing is stored" if tried else "heavy: as stored")
        return words

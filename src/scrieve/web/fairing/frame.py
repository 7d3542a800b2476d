"""One frame enlarged on the Fairing page: its marks, the one taken hold of, and a trial of it beside what is stored."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from urllib.parse import urlencode

from scrieve.athand import AtHand
from scrieve.errors import NoSuchFrame, ScrieveError
from scrieve.fairing.result import FairHull, MarkOff
from scrieve.sheets.bench import Table
from scrieve.sheets.drawing import Drawing
from scrieve.sheets.fairing_frame import FrameView
from scrieve.takeoff.marks import Mark
from scrieve.units import MM_PER_INCH
from scrieve.web.column_whys import ColumnWhy, column_whys
from scrieve.web.fairing.look import Look
from scrieve.web.fairing.trial import Trial, as_shown, read, readings, try_mark
from scrieve.web.fairing.workings import offs_columns, trial_working
from scrieve.web.views import ENVIRONMENT, View
from scrieve.wording import in_units
from scrieve.working import Working

#: How far an arrow key moves a mark, and with Shift: what a rule of these units shows [mm].
STEPS_MM = {"mm": (1.0, 10.0), "ft": (MM_PER_INCH / 16, MM_PER_INCH / 2)}

_views: AtHand[FrameView] = AtHand(12)


@dataclass(frozen=True, slots=True)
class Row:
    """One mark of the frame: how it lies, and its readings as its fields show them."""

    mark: Mark
    off: MarkOff
    height: str
    half_breadth: str
    key: str


@dataclass(frozen=True)
class OneFrame:
    """What the page shows of one frame; `error` says why a trial that was asked for is not shown."""

    hull: FairHull
    frame: str
    drawing: Drawing
    rows: tuple[Row, ...]
    labels: tuple[str, ...]
    around: tuple[str, str]
    chosen: Row | None
    height: str
    half_breadth: str
    hold: bool
    trial: Trial | None
    error: ScrieveError | None
    attributes: dict[str, object]

    @property
    def by_hand(self) -> list[tuple[str, tuple[Row, ...], tuple[ColumnWhy, ...]]]:
        """The rows of each hand with their workings, those of both hands last."""
        found = ((side, tuple(row for row in self.rows if row.mark.side == side)) for side in ("P", "S", ""))
        return [(side, rows, self._whys(rows)) for side, rows in found if rows]

    @property
    def working(self) -> Working | None:
        """How the move of the line came about, where a trial is shown."""
        return in_units(trial_working(self.trial), self.hull.boat.units) if self.trial else None

    def _whys(self, rows: Sequence[Row]) -> tuple[ColumnWhy, ...]:
        names = tuple((f"mark {row.mark.number}", *[""] * 4) for row in rows)
        head = ("mark", "name", "height", "half-breadth", "off the line")
        columns = offs_columns(self.hull, [row.off for row in rows])
        return column_whys(Table("Marks", head, names), columns, self.hull.boat.units)


def mark_path(look: Look, frame: str, number: int) -> str:
    """Address at which a mark of the frame is taken hold of."""
    path = replace(look, show="frame", frame=frame).path()
    return f"{path}&mark={number}#drawing"


def frame_view(view: View, hull: FairHull, look: Look, frame: str) -> FrameView:
    """Return the frame as it is drawn, made once for each state of the boat and each choice.

    Raises
    ------
    NoSuchFrame
        The hull has no marks on such a frame.
    """
    if frame not in hull.stations:
        raise NoSuchFrame(f"frame {frame!r} has no marks in this hull; choose one that was measured.")
    units = view.boat.units
    plain = replace(look, show="frame", frame=frame, places=True)

    def make() -> FrameView:
        return FrameView(
            hull,
            frame,
            bands=look.bands,
            whiskers=look.marks,
            combs=look.combs,
            teeth_times=look.teeth_times,
            stretch=look.stretch,
            link=lambda number: mark_path(plain, frame, number),
            units=units,
        )

    return _views.get((view.state.revision, plain, units), make)


def try_as_typed(
    view: View, hull: FairHull, number: int, height: str, half_breadth: str, *, hold: bool = False
) -> tuple[Trial, str, str]:
    """Return the trial of a mark as typed, and height and half-breadth as the fields show them then.

    Raises
    ------
    ScrieveError
        A length cannot be read, or the mark does not stand in this hull.
    """
    units = view.boat.units
    old = next((mark for mark in view.kept.marks if mark.number == number), None)
    there = as_shown(*read(height, half_breadth, units), units)
    if old is not None:  # a reading that was not touched is not rounded
        same = as_shown(old.height_mm, old.half_breadth_mm, units)
        was = old.height_mm, old.half_breadth_mm
        there = tuple(b if a == c else a for a, b, c in zip(there, was, same, strict=True))  # type: ignore[assignment]
    trial = try_mark(hull, number, *there, hold=hold)
    return trial, *readings(trial.mark, units)


def one_frame(
    view: View,
    hull: FairHull,
    look: Look,
    *,
    number: int | None = None,
    height: str = "",
    half_breadth: str = "",
    hold: bool = False,
    told: ScrieveError | None = None,
) -> OneFrame:
    """Return the frame of `look` with one mark chosen, tried elsewhere where lengths are given.

    Raises
    ------
    NoSuchFrame
        The hull has no marks on such a frame.
    """
    units = view.boat.units
    by_number = {mark.number: mark for mark in view.kept.marks}
    frame = look.frame or first_frame(hull)
    rows = tuple(
        Row(by_number[off.number], off, *readings(by_number[off.number], units), view.key("again", off.number))
        for off in hull.offs
        if off.frame == frame
    )
    drawn = frame_view(view, hull, look, frame)
    chosen = next((row for row in rows if row.mark.number == number), None)
    trial, error = None, told
    if chosen and (height or half_breadth) and told is None:
        try:
            trial, height, half_breadth = try_as_typed(view, hull, chosen.mark.number, height, half_breadth, hold=hold)
        except ScrieveError as found:
            error = found
    elif chosen and not (height or half_breadth):
        height, half_breadth = chosen.height, chosen.half_breadth
    labels = tuple(hull.stations)
    at = labels.index(frame)
    drawing = drawn.drawn(trial.hull if trial else None, chosen.mark.number if chosen else None)
    left, bottom, right, top = drawing.bounds
    ask = {"revision": view.state.revision, "by": look.by, "times": look.times, "teeth": look.teeth}
    ask |= {name: int(getattr(look, name)) for name in ("marks", "bands", "combs")}
    small, large = STEPS_MM[units]
    return OneFrame(
        hull,
        frame,
        drawing,
        rows,
        labels,
        (labels[at - 1] if at else "", labels[at + 1] if at + 1 < len(labels) else ""),
        chosen,
        height,
        half_breadth,
        hold,
        trial,
        error,
        {
            "data-trial": frame,
            "data-ask": "/api/moved?" + urlencode(ask),
            "data-stretch": f"{drawn.stretch:g}",
            "data-centre": f"{0.02 * max(right - left, top - bottom) - left:.3f}",
            "data-small": f"{small:.6g}",
            "data-large": f"{large:.6g}",
            "data-tried": "1" if trial else None,
        },
    )


def first_frame(hull: FairHull) -> str:
    """Return the frame that wants looking at first: the one with the suspect furthest out, else the middle one."""
    labels = list(hull.stations)
    return hull.suspects[0].frame if hull.suspects else labels[len(labels) // 2]


def told(trial: Trial, view: View) -> str:
    """Return what a trial comes to in words, as the page says it (HTML)."""
    working = in_units(trial_working(trial), view.boat.units)
    return ENVIRONMENT.get_template("fairing_told.html").render(trial=trial, u=view.boat.units, working=working)

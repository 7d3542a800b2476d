"""What was measured on a released frame, as it is kept: raw figures and the line they are held against."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal, get_args

import numpy as np

from scrieve.boat import Side
from scrieve.errors import BadLength, BadMarks
from scrieve.frames.release.deviation import TOLERANCE_MM, Deviation, deviation
from scrieve.frames.release.learning import Learnt, Spring, learn, learn_all, read_spring
from scrieve.frames.release.measured import LEAST_MEASURED, Offsets, measured_offsets, measured_points
from scrieve.frames.release.off_jig import Face, Glued, OffJig
from scrieve.frames.shape.displacement import Array
from scrieve.units import Units, parse_length

#: How the figures were taken: offsets from the fair line at places along the frame; points in axes of the builder's
#: own; the same with the place of each along the frame.
Way = Literal["offsets", "points", "placed points"]
When = Literal["off the jig", "after ripping"]

_COLUMNS: dict[str, int] = {"offsets": 2, "points": 2, "placed points": 3}

#: Error of one figure where nothing else is said: common practice, no source [mm].
SIGMA_MM = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class Released:
    """A frame measured off the jig, or again after ripping.

    Attributes
    ----------
    glued : Glued
        The pair as it was set on the jig.
    when : 'off the jig' or 'after ripping'
    hand : 'P', 'S' or ''
        The half that was measured; '' the blank, not yet ripped.
    face : 'outside', 'moulded line' or 'inside'
        The line that was measured.
    way : 'offsets', 'points' or 'placed points'
    rows : ndarray (n, 2) or (n, 3)
        As typed [mm]: place along the moulded line and offset from the fair line, outward above zero; or half-breadth
        and height in axes of the builder's own; or place, half-breadth and height.
    sigma_mm : float
        Error of one figure, one standard deviation.
    note : str
    """

    glued: Glued
    when: When
    hand: Side
    face: Face
    way: Way
    rows: Array
    sigma_mm: float = SIGMA_MM
    note: str = ""

    def __post_init__(self) -> None:
        for given, known, what in (
            (self.when, get_args(When), "when it was measured"),
            (self.hand, ("P", "S", ""), "hand"),
            (self.face, get_args(Face), "face"),
            (self.way, get_args(Way), "way of measuring"),
        ):
            if given not in known:
                raise BadMarks(f"{what}: found {given!r}; say one of {', '.join(filter(None, known))}.")
        if self.rows.ndim != 2 or self.rows.shape[1] != _COLUMNS[self.way] or not np.isfinite(self.rows).all():
            raise BadMarks(f"{self.way}: give {_COLUMNS[self.way]} figures in every row.")
        if len(self.rows) < LEAST_MEASURED:
            raise BadMarks(
                f"{len(self.rows)} measured places; give {LEAST_MEASURED} or more: three go into where the frame lies."
            )
        if not 0.01 <= self.sigma_mm <= 50:
            raise BadMarks(f"error of a figure: {self.sigma_mm:g} mm; give 0.01 to 50 mm.")
        self.offsets()  # refuses what does not fit the line

    @property
    def against(self) -> OffJig:
        """The line that it is compared with."""
        return self.glued.face(self.face)

    def offsets(self) -> Offsets:
        """How far the frame stands off the line predicted off the jig.

        Offsets are taken from the fair line (a pattern, the loft); what that stands off the predicted line is added.
        """
        against = self.against
        line = against.target
        if self.way == "points":
            return measured_points(line, self.rows, self.sigma_mm)
        s = against.along(self.rows[:, 0])
        _on_the_frame(self.rows[:, 0], against.girth_mm)
        if self.way == "placed points":
            order = np.argsort(s)
            return measured_points(line, self.rows[order, 1:], self.sigma_mm, s_mm=s[order])
        apart = ((against.finished.points_mm - line.points_mm) * line.outward).sum(axis=1)
        return measured_offsets(line, s, self.rows[:, 1] + np.interp(s, line.s_mm, apart), self.sigma_mm)

    def deviation(self, tolerance_mm: float = TOLERANCE_MM) -> Deviation:
        """How far it stands off the line predicted off the jig, with ±."""
        return deviation(self.against.target, self.offsets(), tolerance_mm=tolerance_mm)

    def spring(self) -> Spring:
        """What it says of the factor on springback.

        Raises
        ------
        BadMarks
            The frame is computed not to spring at all.
        """
        against, glued = self.against, self.glued
        return read_spring(
            against.target,
            self.offsets(),
            against.lost_per_mm,
            factor_used=glued.factor_used,
            frame=glued.frame,
            timber=glued.timber,
            glue=glued.glue,
        )

    def to_mapping(self) -> dict[str, Any]:
        """Plain values fit for JSON; `from_mapping` reads them back."""
        return {
            "glued": self.glued.to_mapping(),
            "when": self.when,
            "hand": self.hand,
            "face": self.face,
            "way": self.way,
            "rows_mm": self.rows.tolist(),
            "sigma_mm": self.sigma_mm,
            "note": self.note,
        }

    @classmethod
    def from_mapping(cls, plain: Mapping[str, Any]) -> Released:
        """Read back what `to_mapping` wrote.

        Raises
        ------
        BadMarks
            It is not whole, or its figures do not fit the line.
        """
        try:
            return cls(
                Glued.from_mapping(plain["glued"]),
                plain["when"],
                plain["hand"],
                plain["face"],
                plain["way"],
                np.array(plain["rows_mm"], dtype=float),
                float(plain["sigma_mm"]),
                str(plain["note"]),
            )
        except (KeyError, TypeError, ValueError) as error:
            raise BadMarks("a kept release cannot be read; measure the frame again.") from error


def read_rows(text: str, way: Way, units: Units) -> Array:
    """Read measured figures as typed or pasted: a place in each line, its figures apart by blanks, tabs or semicolons.

    Parameters
    ----------
    text : str
        Lines beginning with # are passed over. Where lengths hold blanks (4 5/8"), tabs or semicolons part them.
    way : 'offsets', 'points' or 'placed points'
    units : 'mm' or 'ft'
        The builder's: of bare numbers.

    Returns
    -------
    ndarray (n, 2) or (n, 3)
        [mm]

    Raises
    ------
    BadMarks
        A line has not the figures it should have, or one cannot be read; the message names every such line.

    Examples
    --------
    >>> read_rows("0  1.5\\n200  -0.5", "offsets", "mm").tolist()
    [[0.0, 1.5], [200.0, -0.5]]
    >>> read_rows("0-8-0; (0-0-1)", "offsets", "ft").round(3).tolist()
    [[203.2, -3.175]]
    """
    wanted = _COLUMNS[way]
    rows, bad = [], []
    for number, line in enumerate(text.splitlines(), 1):
        plain = line.strip()
        if not plain or plain.startswith("#"):
            continue
        parts = [part.strip() for part in re.split(r"[;\t]" if re.search(r"[;\t]", plain) else r"\s+", plain)]
        if len(parts) != wanted:
            bad.append(f"line {number}: {len(parts)} figures in {plain!r}; {way} want {wanted}.")
            continue
        try:
            rows.append([parse_length(part, units) for part in parts])
        except BadLength as error:
            bad.append(f"line {number}: {error}")
    if bad:
        raise BadMarks("the measured figures cannot be read, so nothing was stored:", bad)
    return np.array(rows, dtype=float).reshape(-1, wanted)


def springs_of(details: Iterable[Mapping[str, Any]]) -> list[Spring]:
    """What kept releases say of the factor, in order: only those measured off the jig, before ripping moved them.

    Measurings of one piece are weighed together: its own springing from frame to frame is there once, however often it
    is measured. A piece is known by how it was set on the jig and by its glue-up; of one made again to the same setting
    whose glue-up was not kept nothing tells it from the first.

    Parameters
    ----------
    details : iterable of mapping
        As `Released.to_mapping` wrote them, corrected ones left out; `glue_up` beside it is the number of the glue-up
        that the piece came of, where one was kept. What cannot be read teaches nothing.
    """
    pieces: dict[tuple[str, int | None], list[Spring]] = {}
    first: dict[str, int] = {}
    for each in details:
        try:
            taken = Released.from_mapping(each)
            if taken.when != "off the jig":
                continue
            setting, number = json.dumps(each["glued"], sort_keys=True), each.get("glue_up")
            if number is not None:
                first.setdefault(setting, number)
            of_first = number in (None, first.get(setting))  # measured before the number was kept: of the first piece
            pieces.setdefault((setting, None if of_first else number), []).append(taken.spring())
        except BadMarks:
            continue
    return [_together(measured) for measured in pieces.values()]


def _together(measured: Sequence[Spring]) -> Spring:
    """What several measurings of one piece say: their mean, each weighing by its own measuring error."""
    if len(measured) == 1:
        return measured[0]
    weight = np.array([each.sd for each in measured]) ** -2.0
    return replace(
        measured[0],
        factor=float(weight @ [each.factor for each in measured] / weight.sum()),
        sd=float(weight.sum() ** -0.5),
        springback_mm=float(weight @ [each.springback_mm for each in measured] / weight.sum()),
        misfit=max(each.misfit for each in measured),
    )


def learnt_of(details: Iterable[Mapping[str, Any]]) -> dict[tuple[str, str], Learnt]:
    """The factor learnt for every timber and family of glue from the kept releases."""
    return learn_all(springs_of(details))


def learnt_springs(details: Iterable[Mapping[str, Any]]) -> dict[tuple[str, str], tuple[float, float]]:
    """(timber, glue) -> factor for the next jig and the sd of the next frame's own, as a design takes them.

    Rounded to a ten-thousandth, so that a revision does not hang on the last bits of a sum.
    """
    return {key: (round(each.factor, 4), round(each.next_sd, 4)) for key, each in learnt_of(details).items()}


def course(springs: Sequence[Spring]) -> tuple[Learnt, ...]:
    """The factor after each frame in turn: n + 1 values, the first the prior. All of one timber and glue."""
    return tuple(learn(springs[:n]) for n in range(len(springs) + 1))


def _on_the_frame(girth: Array, line: Array) -> None:
    off = np.flatnonzero((girth < line[0] - 100) | (girth > line[-1] + 100))
    if off.size:
        raise BadMarks(
            f"place no. {off[0] + 1}, {girth[off[0]]:.0f} mm along: the moulded line runs from {line[0]:.0f} to "
            f"{line[-1]:.0f} mm."
        )

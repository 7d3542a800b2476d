"""The forms of the page that lines off a side, as typed; lengths still text."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, replace
from itertools import pairwise
from typing import Any

from scrieve.errors import BadLength, BadPlank, NoSuchPlank
from scrieve.planking import (
    BUTT_RULES,
    EndJoint,
    KeptSeam,
    Lining,
    LiningChoice,
    PlankStock,
    PlanSettings,
    SeamMark,
    ShellLayout,
    Stealer,
    StrakeChoice,
    butt_rules,
    shell_layout,
)
from scrieve.planking.butts.joints import JointKind
from scrieve.planking.butts.rules import SCARF_SHIFTS, ButtRules
from scrieve.planking.butts.scarfs import SCARF_RULES, scarf
from scrieve.planking.lining.choice import PlaceLimit, SetWidths
from scrieve.sheets.figures import length
from scrieve.stock.board import Board
from scrieve.units import Units, parse_length
from scrieve.web.forms import TextForm, read_length

_KINDS = {"girth": "girth", "height": "height", "half-breadth": "half_breadth", "half breadth": "half_breadth"}
_ENDS = {"forward": "first", "aft": "last", "first": "first", "last": "last"}
SIDES = {"pair": "", "port": "P", "starboard": "S"}


#: Lengths of the form as the page calls them.
NAMED = {
    "widest": "Widest strake",
    "narrowest": "Narrowest strake",
    "end_narrowest": "Narrowest at the ends",
    "thickness": "Thickness of planking",
    "stock": "Thickness of stock",
    "lap": "Lap",
}


@dataclass(frozen=True, slots=True)
class LiningForm(TextForm):
    """The settings of a lining.

    `lower`, `upper` and the lines of `kept` are seams such as 'seam 9, 8 below, height: 14 812, 18 790, 22 771'; the
    lines of `stealers` such as '5 forward 14' (strake, the end that it does not reach, the frame of its nib); those of
    `set_widths` such as '14: 110, 115, -, 120' (a frame, and widths from the lowest strake up, '-' where free); those
    of `limits` such as '5 to 14, strakes 1-4: 90 to 140' (narrowest and widest from a frame to a frame).
    """

    first: str = ""
    last: str = ""
    lower: str = ""
    upper: str = ""
    kept: str = ""
    strakes: str = ""
    rule: str = "equal"
    widest: str = ""
    narrowest: str = ""
    end_narrowest: str = ""
    thickness: str = ""
    stock: str = ""
    stealers: str = ""
    set_widths: str = ""
    hull: str = "both"
    build: str = "carvel"
    lap: str = ""
    limits: str = ""

    @classmethod
    def of(cls, choice: LiningChoice, units: Units) -> LiningForm:
        """Return the form filled with what was chosen."""

        def told(mm: float) -> str:
            return length(mm, units, 0 if mm == round(mm) else 1) if mm else ""

        kept = "\n".join(
            f"{seam.name}{f', {seam.below} below' if seam.below else ''}, {seam_text(seam.marks, units)}"
            for seam in choice.kept
        )
        return cls(
            choice.first, choice.last, seam_text(choice.lower, units), seam_text(choice.upper, units), kept,
            str(choice.strakes or ""), choice.rule, told(choice.widest_mm), told(choice.narrowest_mm),
            told(choice.end_narrowest_mm), told(choice.thickness_mm), told(choice.stock_mm),
            "\n".join(f"{s.strake} {'forward' if s.end == 'first' else 'aft'} {s.frame}" for s in choice.stealers),
            "\n".join(f"{row.frame}: {', '.join(length(w, units) if w else '-' for w in row.widths_mm)}"
                      for row in choice.set_widths),
            choice.hull, choice.build, told(choice.lap_mm),
            "\n".join(_limit_text(limit, units) for limit in choice.limits),
        )  # fmt: skip

    def with_seams_of(self, planks: Mapping[str, Any], units: Units) -> LiningForm:
        """Return the form with the marks of a plank's seam where it names one, as 'upper edge of topside 11'.

        Parameters
        ----------
        planks : mapping name -> plank as it is stored
        units : Units

        Raises
        ------
        NoSuchPlank, BadPlank
            There is no such plank, or it was not drawn from seams on the hull.
        """

        def marked(text: str) -> str:
            found = _EDGE_OF.search(text)
            return text[: found.start()] + _edge_of(found[1], found[2], planks, units) if found else text

        kept = "\n".join(marked(line) for line in _lines(self.kept))
        return replace(self, lower=marked(self.lower), upper=marked(self.upper), kept=kept)

    def choice(self, side: str, before: LiningChoice, units: Units) -> LiningChoice:
        """Return the choice typed; a length that still reads as before is not changed by its rounding.

        Raises
        ------
        BadPlank, BadLength
            A value cannot be read or used; the message says which.
        """
        old = LiningForm.of(before, units)
        values: dict[str, Any] = {"side": side, "first": self.first, "last": self.last, "rule": self.rule}
        values |= {"hull": self.hull, "build": self.build}
        for name in ("widest", "narrowest", "end_narrowest", "thickness", "stock", "lap"):
            text = getattr(self, name)
            if text != getattr(old, name):
                default = 0.0 if name in ("stock", "lap") else getattr(LiningChoice("default"), f"{name}_mm")
                values[f"{name}_mm"] = read_length(NAMED[name], text, units) if text else default
        if self.strakes and not self.strakes.isdecimal():
            raise BadPlank(f"strakes: found {self.strakes!r}; give a number, or leave it blank for a proposal.")
        values["strakes"] = int(self.strakes or 0)
        for name in ("lower", "upper"):
            if getattr(self, name) != getattr(old, name):
                text = getattr(self, name)
                values[name] = read_seam(f"{name} seam, {text}", units).marks if text else ()
        if _lines(self.kept) != _lines(old.kept):
            values["kept"] = tuple(read_seam(line, units) for line in _lines(self.kept))
        if _lines(self.set_widths) != _lines(old.set_widths):
            values["set_widths"] = tuple(_set_widths(line, units) for line in _lines(self.set_widths))
        if _lines(self.limits) != _lines(old.limits):
            values["limits"] = tuple(_limit(line, units) for line in _lines(self.limits))
        thickness = values.get("thickness_mm", before.thickness_mm)
        values["stealers"] = tuple(_stealer(line, thickness, before) for line in _lines(self.stealers))
        return replace(before, **values)


_EDGE_OF = re.compile(r"\b(lower|upper) edge of\s+(\S[^\n]*?)\s*$", re.IGNORECASE)


def _edge_of(edge: str, name: str, planks: Mapping[str, Any], units: Units) -> str:
    """Marks of one seam of a plank, as they are typed."""
    drawn = [each for each, entry in planks.items() if entry["kind"] == "strake"]
    if name not in drawn:
        if name in planks:
            raise BadPlank(f"plank {name!r} was not drawn from seams on the hull; give the marks of its {edge} seam.")
        there = ", ".join(drawn) or "none"
        raise NoSuchPlank(f"plank {name!r}: there is none of this name; drawn from seams on the hull are {there}.")
    marks = getattr(StrakeChoice.from_mapping(planks[name]["choice"]), edge.lower())
    if len({mark.kind for mark in marks}) > 1:
        raise BadPlank(f"plank {name!r}, {edge} seam: marked in more ways than one; type girths, heights or "
                       "half-breadths.")  # fmt: skip
    return seam_text(marks, units)


def read_seam(line: str, units: Units) -> KeptSeam:
    """Read a seam: its name, how many strakes are below it, the kind of its marks, and frame and length of each.

    Raises
    ------
    BadPlank
        It cannot be read; the message shows how it is written.

    Examples
    --------
    >>> read_seam("seam 9, 8 below, height: 14 812, 18 790", "mm").below
    8
    """
    head, parted, body = line.partition(":")
    words = [word.strip() for word in head.split(",") if word.strip()]
    how = "write it as 'seam 9, 8 below, height: 14 812, 18 790, 22 771' (girth, height or half-breadth)"
    kind = next((_KINDS[word.lower()] for word in words if word.lower() in _KINDS), "")
    below = next((int(found[1]) for word in words if (found := re.fullmatch(r"(\d+) below", word))), 0)
    names = [word for word in words if word.lower() not in _KINDS and not re.fullmatch(r"\d+ below", word)]
    if not parted or not kind or not names:
        raise BadPlank(f"seam {line!r}: {how}.")
    marks = []
    for pair in (pair.strip() for pair in re.split(r"[,;\n]", body) if pair.strip()):
        frame, _, value = pair.rpartition(" ")
        if not frame:
            raise BadPlank(f"seam {names[0]!r}: found {pair!r}; {how}.")
        marks.append(SeamMark(parse_length(value, units), kind, frame.strip()))  # type: ignore[arg-type]
    return KeptSeam(names[0], tuple(marks), below)


def _set_widths(line: str, units: Units) -> SetWidths:
    frame, parted, body = line.rpartition(":")
    cells = [cell.strip() for cell in re.split(r"[,;]", body)]
    if not parted or not frame.strip() or not all(cells):
        raise BadPlank(f"set widths {line!r}: write the frame and the widths from the lowest strake up, as "
                       "'14: 110, 115, -, 120'.")  # fmt: skip
    return SetWidths(frame.strip(), tuple(None if cell in ("-", "–") else parse_length(cell, units) for cell in cells))


_LIMIT = re.compile(
    r"(?P<first>[^:]*?)\s*\bto\b\s*(?P<last>[^:]*?)(?:,?\s*strakes?\s+(?P<lowest>\d+)(?:\s*[-–]\s*(?P<highest>\d+))?)?"
    r"\s*:\s*(?P<narrowest>.*?)\s*\bto\b\s*(?P<widest>.*)"
)


def _limit(line: str, units: Units) -> PlaceLimit:
    found = _LIMIT.fullmatch(line)
    if found is None or not (found["narrowest"] or found["widest"]):
        raise BadPlank(f"limits {line!r}: write from which frame to which, and narrowest and widest there, as "
                       "'5 to 14: 90 to 140', '5 to 14: to 140', or '5 to 14, strakes 1-4: 90 to 140'.")  # fmt: skip
    low = int(found["lowest"] or 0)
    narrowest, widest = (parse_length(found[name], units) if found[name] else None for name in ("narrowest", "widest"))
    if narrowest is not None and widest is not None and narrowest >= widest:
        raise BadPlank(f"limits {line!r}: the narrowest is not under the widest; change one.")
    return PlaceLimit(found["first"], found["last"], low, int(found["highest"] or low), narrowest, widest)


def _limit_text(limit: PlaceLimit, units: Units) -> str:
    strakes = f", strakes {limit.lowest}-{limit.highest}" if limit.lowest else ""
    ends = ("" if mm is None else length(mm, units) for mm in (limit.narrowest_mm, limit.widest_mm))
    return f"{limit.first} to {limit.last}{strakes}: {' to '.join(ends).strip()}"


def seam_text(marks: tuple[SeamMark, ...], units: Units) -> str:
    """Return the marks of a seam as they are typed; empty where there are none."""
    if not marks:
        return ""
    kind = next(word for word, value in _KINDS.items() if value == marks[0].kind)
    places = (f"{mark.frame or f'{mark.station_mm:g}'} {length(mark.value_mm, units)}" for mark in marks)
    return f"{kind}: {', '.join(places)}"


def _stealer(line: str, thickness_mm: float, before: LiningChoice) -> Stealer:
    found = re.fullmatch(r"(\d{1,2})\s+(forward|aft|first|last)\s+(\S.*)", line)
    if found is None:
        raise BadPlank(f"stealer {line!r}: write the strake, forward or aft for the end it does not reach, and the "
                       "frame of its nib, as '5 forward 14'.")  # fmt: skip
    stealer = Stealer(int(found[1]), _ENDS[found[2]], found[3].strip(), before.nib_mm or thickness_mm)  # type: ignore[arg-type]
    same = [s for s in before.stealers if (s.strake, s.end, s.frame) == (stealer.strake, stealer.end, stealer.frame)]
    return same[0] if same else stealer


@dataclass(frozen=True, slots=True)
class ButtsForm(TextForm):
    """How butts are judged and planned.

    `stock` are lengths with how many there are ('5000 x 6, 4000'), `there` lines of joints that stay ('3 14-15':
    strake and bay, or strake and frame; with 'butt' or 'scarf' after it where it is not as `joint` says), `renew`
    strakes ('1-4, 7'; blank: all), `closed` bays that can take none ('7-8, 20-21'), `unmarked` frames without marks
    ('20 6000, 21 6300'). `joint` is 'butt', or the name of a rule for scarfs, `shift` how scarfs keep apart from
    scarfs; `opposite` are bays or frames of the other garboard's joints, `keel` those of the keel's scarfs.
    """

    rules: str = next(iter(BUTT_RULES))
    stock: str = ""
    there: str = ""
    renew: str = ""
    closed: str = ""
    unmarked: str = ""
    seconds: str = "20"
    joint: str = "butt"
    opposite: str = ""
    keel: str = ""
    shift: str = next(iter(SCARF_SHIFTS))

    def mapping(self) -> dict[str, str]:
        """Plain values, to be stored."""
        return asdict(self)

    def layout(self, lining: Lining, units: Units, more: Mapping[str, float]) -> ShellLayout:
        """Return the shell with the butts that are there.

        Parameters
        ----------
        lining : Lining
        units : Units
            Of lengths typed.
        more : mapping of label -> station [mm]
            Frames without marks that the boat tells of; those typed are added.

        Raises
        ------
        BadPlank, BadLength
            A value cannot be read or used; the message says which.
        """
        self.judged_by()
        frames = dict(more)
        for pair in _parts(self.unmarked):
            label, _, station = pair.rpartition(" ")
            if not label:
                raise BadPlank(f"frames without marks: found {pair!r}; write label and station, as '20 6000'.")
            frames[label.strip()] = parse_length(station, units)
        bare = shell_layout(lining, renew=self._renewed(lining), frames=list(frames.items()))
        others, keel = (
            tuple(_place(part, bare, f"{what} {part!r}") for part in _parts(text))
            for what, text in (("joint of the other garboard", self.opposite), ("keel scarf", self.keel))
        )
        bare = replace(bare, opposite_mm=others, keel_scarfs_mm=keel)
        rule = self.joint if self.kind() == "scarf" else PlanSettings().scarf_rule
        long = scarf(lining.choice.thickness_mm, rule).length_mm
        joints = [_joint(line, bare, self.kind(), long) for line in _lines(self.there)]
        return replace(bare, joints=tuple(joints))

    def _renewed(self, lining: Lining) -> set[int] | None:
        if not self.renew:
            return None
        found: set[int] = set()
        for part in _parts(self.renew):
            span = re.fullmatch(r"(\d{1,3})(?:\s*[-–]\s*(\d{1,3}))?", part)
            if span is None:
                raise BadPlank(f"strakes to be renewed: found {part!r}; write them as '1-4, 7'.")
            found |= set(range(int(span[1]), int(span[2] or span[1]) + 1))
        return found

    def boards(self, units: Units) -> list[PlankStock]:
        """Return the lengths to hand; raise BadPlank or BadLength where they cannot be read."""
        boards = []
        for part in _parts(self.stock):
            found = re.fullmatch(r"(.+?)\s*(?:[x×]\s*(\d{1,4}))?", part)
            assert found is not None
            boards.append(PlankStock(parse_length(found[1], units), int(found[2]) if found[2] else None))
        if not boards:
            raise BadPlank("boards to hand: none given; give lengths, as '5000 x 6, 4000'.")
        return boards

    def judged_by(self) -> ButtRules:
        """Return the set of rules chosen; raise BadPlank where it, or the shift of scarfs, is not known."""
        return butt_rules(self.rules, self.shift)

    def kind(self) -> JointKind:
        """How planks are joined; raise BadPlank where it is neither 'butt' nor a rule for scarfs."""
        if self.joint in ("", "butt"):
            return "butt"
        if self.joint not in SCARF_RULES:
            raise BadPlank(f"joints: found {self.joint!r}; say 'butt' or one of {'; '.join(SCARF_RULES)}.")
        return "scarf"

    def settings(self, thickness_mm: float) -> PlanSettings:
        """How a plan is looked for; raise BadPlank where a value cannot be used."""
        kind = self.kind()
        rule = self.joint if kind == "scarf" else PlanSettings().scarf_rule
        return PlanSettings(kind, thickness_mm, rule, closed=self.bays(), seconds=self.limit_s())

    def bays(self) -> tuple[str, ...]:
        """Bays that can take no butt."""
        return tuple(_parts(self.closed))

    def limit_s(self) -> float:
        """How long a plan may be looked for [s]; raise BadPlank where that is no number from 1 to 300."""
        try:
            seconds = float(self.seconds or 20)
        except ValueError:
            seconds = 0.0
        if not 1 <= seconds <= 300:
            raise BadPlank(f"time for the plan: found {self.seconds!r}; give 1 to 300 seconds.")
        return seconds


def _joint(line: str, layout: ShellLayout, chosen: JointKind, scarf_mm: float) -> EndJoint:
    """Read '3 14-15' as a joint of the chosen kind, '3 14-15 scarf' or '3 14-15 butt' as said."""
    number, _, where = line.partition(" ")
    said = re.fullmatch(r"(.*?)\s+(butt|scarf)", where.strip())
    if said:
        where = said[1]
    kind: JointKind = said[2] if said else chosen  # type: ignore[assignment]
    if not (number.isdecimal() and where.strip()):
        raise BadPlank(f"butt {line!r}: write strake and bay, as '3 14-15', or strake and frame, as '3 14'.")
    return EndJoint(
        int(number), _place(where.strip(), layout, f"butt {line!r}"), kind, scarf_mm if kind == "scarf" else 0.0
    )


def _place(where: str, layout: ShellLayout, what: str) -> float:
    """Station of a frame, of the middle of a bay, or as measured, with its unit."""
    stations = dict(layout.frames)
    if where in stations:
        return stations[where]
    labels = [label for label, _ in layout.frames]
    for low, high in pairwise(labels):
        if where.replace("–", "-") == f"{low}-{high}":
            return (stations[low] + stations[high]) / 2
    try:
        return parse_length(where, "ft")  # a bare number is a frame's
    except BadLength:
        raise BadPlank(
            f"{what}: {where!r} is no frame of this side and no bay between two neighbours. A station is written with "
            "its unit, such as 4650mm."
        ) from None


def boards_to_hand(rack: Iterable[Board], thickness_mm: float, width_mm: float) -> list[PlankStock]:
    """Lengths of the boards in the rack that give a plank so thick and so wide, one plank of each, shortest first.

    A board's mean width is held against the plank's; wany edges, knots and the plank's bow are for the laying out.
    """
    count: dict[float, int] = {}
    for board in rack:
        if board.thickness_mm >= thickness_mm and board.area_mm2 / board.length_mm >= width_mm:
            count[board.length_mm] = count.get(board.length_mm, 0) + 1
    return [PlankStock(length_mm, number) for length_mm, number in sorted(count.items())]


def stock_text(boards: Iterable[PlankStock], units: Units) -> str:
    """Write boards to hand as `ButtsForm.stock` reads them."""
    return ", ".join(
        f"{length(board.length_mm, units)}{f' x {board.count}' if board.count else ''}" for board in boards
    )


def joint_text(joint: EndJoint, layout: ShellLayout, chosen: JointKind) -> str:
    """Write a joint as `ButtsForm.there` reads it where planks are joined as chosen."""
    where = layout.where(joint.x_mm).removeprefix("bay ").removeprefix("frame ")
    return f"{joint.strake} {where}{'' if joint.kind == chosen else f' {joint.kind}'}"


def _lines(text: str) -> list[str]:
    return [line.strip() for line in text.splitlines() if line.strip()]


def _parts(text: str) -> list[str]:
    return [part.strip() for part in re.split(r"[,;\n]", text) if part.strip()]

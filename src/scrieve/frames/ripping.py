"""Ripping: one blank into a port and a starboard half, cut by cut, each half's marks and bevels to its own hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from scrieve.boat import Side
from scrieve.errors import BadLamination, above_zero
from scrieve.frames.blank import HANDS, blank_siding
from scrieve.frames.choice import LIMITS_MM
from scrieve.frames.design import FrameDesign
from scrieve.frames.parts import BevelMark, CarriedMark
from scrieve.units import format_angle
from scrieve.wording import Length, by_itself, small, tell
from scrieve.working import Check, Working

COMMON = "common practice, no source"

CAUTIONS = (
    "Do not rip until the glue is fully cured, and the blank has been measured off the jig.",
    "Cured glue is hard on blades, and the stock closes or springs open as it is cut: riving knife or wedges in the "
    "kerf, feeders, long out-feed, keep off the line of the blade; a second person only to support, never to pull.",
    "A curved blank rocks: support it along its whole length, on cradles cut to it; a band saw is kinder than a bench "
    "saw.",
    "Thin strips come off on the far side of the blade against a bearing stop, never between blade and fence.",
    "Scrape off every run of glue before planing: it chips knives and flies.",
    "Sanding or sawing part-cured epoxy sensitises; hardwood dust is a carcinogen: respirator and extraction.",
    "Label both halves before they part. They are alike only until they are bevelled.",
    "Keep the pair stickered flat and marked until it is fitted; measure again after a night.",
)


@dataclass(frozen=True, slots=True)
class RipSizes:
    """Sizes of the ripping [mm]: finished siding of a half, kerf, cleaning of each sawn face and of each edge.

    With one half, nothing is ripped: the blank is thicknessed to its siding.
    """

    sided_mm: float
    kerf_mm: float
    cleaning_mm: float
    edge_cleaning_mm: float
    halves: Literal[1, 2] = 2

    def __post_init__(self) -> None:
        above_zero("sided", self.sided_mm, "mm")
        for name in ("kerf_mm", "cleaning_mm", "edge_cleaning_mm"):
            value = getattr(self, name)
            if not (np.isfinite(value) and value >= 0):
                raise BadLamination(f"ripping, {name}: {value:g}; give mm, 0 or more.")
        if self.kerf_mm > LIMITS_MM["kerf"][1]:
            raise BadLamination(f"ripping, kerf: {self.kerf_mm:.1f} mm; give {LIMITS_MM['kerf'][1]:g} mm at most.")

    @property
    def needed_mm(self) -> float:
        """Siding of the blank: 2 × sided + kerf + cleaning of both sawn faces and of both edges [mm]."""
        return blank_siding(self.sided_mm, self.kerf_mm, self.cleaning_mm, self.edge_cleaning_mm, self.halves)


@dataclass(frozen=True, slots=True)
class Layer:
    """One strip across the siding, from the edge on the side of half P: what becomes of it, from where to where."""

    what: Literal["edge cleaning", "half", "sawn-face cleaning", "kerf"]
    hand: Side
    from_mm: float
    to_mm: float


@dataclass(frozen=True, slots=True)
class Cut:
    """One cut or pass, in order: measured from which face, the setting, and the siding that it leaves [mm]."""

    order: int
    what: str
    measured_from: str
    setting_mm: float | None
    leaves_mm: float | None
    how: str


@dataclass(frozen=True, slots=True)
class BevelCut:
    """The bevel of one half at one mark.

    `bevel_rad` is above zero where standing, as in `BevelMark`. `tilt_rad` is the same seen across the blank, above
    zero where the outer face rises towards half S's edge: opposite for the two halves. `wood_mm` is what comes off
    the outer edge of the sawn face (under), or of the moulding-edge face (standing), over the finished siding.
    """

    hand: Side
    number: int
    s_mm: float
    bevel_rad: float
    tilt_rad: float
    wood_mm: float
    off_face: Literal["sawn face", "moulding-edge face", "neither"]
    text: str


@dataclass(frozen=True, slots=True)
class Half:
    """One half: its face names, at which side its heel lies when its moulding-edge face is looked at, marks, bevels."""

    hand: Side
    word: str
    moulding_face: Literal["fore", "aft"]
    sawn_face: Literal["fore", "aft"]
    heel_at: Literal["left", "right"]
    marks: tuple[CarriedMark, ...]
    bevels: tuple[BevelCut, ...]


@dataclass(frozen=True, slots=True)
class RippingPlan:
    """The plan: sizes, strips across the siding, cuts in order, the two halves, the check of width, cautions.

    `siding_mm` is what the blank really has (or, not yet measured, what it needs); `cleaning_left_mm` what can be
    cleaned off each sawn face then; `most_sided_mm` the most that both halves can finish to with their cleaning.
    """

    frame: str
    sizes: RipSizes
    siding_mm: float
    layers: tuple[Layer, ...]
    cuts: tuple[Cut, ...]
    halves: tuple[Half, ...]
    check: Check
    cleaning_left_mm: float
    most_sided_mm: float
    cautions: tuple[str, ...]
    workings: tuple[Working, ...]

    @property
    def placed(self) -> tuple[CarriedMark, ...]:
        """Marks that have a place along the moulded line, the same on both halves, which mirror each other."""
        return tuple(mark for mark in self.halves[0].marks if mark.s_mm is not None)


def plan_for(design: FrameDesign, *, found_siding_mm: float | None = None, kerf_mm: float | None = None) -> RippingPlan:
    """The ripping of one designed frame; `found_siding_mm` is the least siding measured on the blank, `kerf_mm` the
    kerf of a trial cut.
    """
    choice = design.choice
    kerf = choice.kerf_mm if kerf_mm is None else kerf_mm
    halves: Literal[1, 2] = 2 if choice.hands == "pair" else 1
    sizes = RipSizes(choice.sided_mm, kerf, choice.cleaning_mm, choice.edge_cleaning_mm, halves)
    return plan_ripping(
        sizes,
        design.marks_to_carry,
        design.bevels,
        design.moulding_edge,
        found_siding_mm=found_siding_mm,
        frame=choice.frame,
    )


def plan_ripping(
    sizes: RipSizes,
    marks: Sequence[CarriedMark],
    bevels: Sequence[BevelMark],
    moulding_edge: Literal["fore", "aft"],
    *,
    found_siding_mm: float | None = None,
    frame: str = "",
) -> RippingPlan:
    """Plan the ripping of one blank into two halves.

    Parameters
    ----------
    sizes : RipSizes
    marks : sequence of CarriedMark
        Of the hands got out, as designed.
    bevels : sequence of BevelMark
        Of the frame; each half takes them to its own hand.
    moulding_edge : 'fore' or 'aft'
        The face that carries the moulded line: an edge of the blank on both halves.
    found_siding_mm : float, optional
        Least siding measured on the blank as glued [mm].

    Returns
    -------
    RippingPlan
        With the saw line in the middle of what is there, so that both halves share what is short or over.

    Raises
    ------
    BadLamination
        A size is below zero, or no blank can have the siding found: nothing would be left of a half, or it is more than
        twice what is wanted.

    References
    ----------
    .. [1] Siding = 2 × sided + kerf + cleaning of both sawn faces + of both edges, order of cuts: common practice.
    """
    needed = sizes.needed_mm
    siding = needed if found_siding_mm is None else float(above_zero("siding of the blank", found_siding_mm, "mm"))
    over = siding - needed
    hands = tuple(hand for hand in HANDS if sizes.halves == 2 or any(mark.hand == hand[0] for mark in marks))
    if sizes.halves == 1:
        left, most = sizes.edge_cleaning_mm + over, siding - 2 * sizes.edge_cleaning_mm
        layers, cuts = _one_layer(sizes, siding, left, hands[0][0]), _one_cuts(sizes, siding)
    else:
        left = sizes.cleaning_mm + over / 2
        most = (siding - sizes.kerf_mm) / 2 - sizes.cleaning_mm - sizes.edge_cleaning_mm
        layers, cuts = _layers(sizes, siding, left), _cuts(sizes, siding, left)
    if most <= 0 or siding > 2 * needed:
        wrong = "leave nothing of a half" if most <= 0 else f"are more than twice the {needed:.1f} mm wanted"
        raise BadLamination(f"siding of the blank: {siding:.1f} mm {wrong}; measure it again.")
    return RippingPlan(
        frame=frame,
        sizes=sizes,
        siding_mm=siding,
        layers=layers,
        cuts=cuts,
        halves=tuple(_half(hand, word, moulding_edge, marks, bevels) for hand, word in hands),
        check=_check(sizes, siding, left, most, found_siding_mm is not None),
        cleaning_left_mm=left,
        most_sided_mm=most,
        cautions=CAUTIONS if sizes.halves == 2 else CAUTIONS[:1] + CAUTIONS[4:6],
        workings=(_working(sizes, siding, left, most),),
    )


def half_stiffness(glued_ei_nmm2: float, blank_siding_mm: float, sided_mm: float) -> float:
    """Bending stiffness of one half, before its faces are planed: that of the blank × its share of the siding [N mm²].

    Examples
    --------
    >>> half_stiffness(6.0e10, 100.0, 45.0)
    27000000000.0
    """
    ei, blank, sided = (
        float(above_zero("stiffness and siding", v, "")) for v in (glued_ei_nmm2, blank_siding_mm, sided_mm)
    )
    if sided > blank:
        raise BadLamination(f"a half sided {sided:g} mm out of a blank of {blank:g} mm; look at both.")
    return ei * sided / blank


def _layers(sizes: RipSizes, siding: float, left: float) -> tuple[Layer, ...]:
    run: tuple[tuple[Literal["edge cleaning", "half", "sawn-face cleaning", "kerf"], Side, float], ...] = (
        ("edge cleaning", "P", sizes.edge_cleaning_mm),
        ("half", "P", sizes.sided_mm),
        ("sawn-face cleaning", "P", left),
        ("kerf", "", sizes.kerf_mm),
        ("sawn-face cleaning", "S", left),
        ("half", "S", sizes.sided_mm),
        ("edge cleaning", "S", sizes.edge_cleaning_mm),
    )
    edges = np.concatenate([[0.0], np.cumsum([width for _, _, width in run])])
    return tuple(
        Layer(what, hand, float(a), float(b)) for (what, hand, _), a, b in zip(run, edges[:-1], edges[1:], strict=True)
    )


def _cuts(sizes: RipSizes, siding: float, left: float) -> tuple[Cut, ...]:
    edge, sided, kerf = sizes.edge_cleaning_mm, sizes.sided_mm, sizes.kerf_mm
    rough = sided + left
    rows: tuple[tuple[str, str, float | None, float | None, str], ...] = (
        (
            "carry the marks round both edges",
            "",
            None,
            siding,
            "label P and S, heel and head, before a face is touched",
        ),
        ("scrape the edges", "", None, siding, "every run of glue off"),
        ("plane the edge of half P flat, out of wind", "edge P", edge, siding - edge, "its moulding-edge face"),
        (
            "thickness the edge of half S parallel to it",
            "moulding-edge face P",
            siding - 2 * edge,
            siding - 2 * edge,
            "its moulding-edge face",
        ),
        ("strike the saw line on both faces of the packet", "both moulding-edge faces", rough, None, "gauge from each"),
        (
            "rip",
            "moulding-edge face P",
            rough,
            rough,
            tell("kerf {kerf} on the side of half S; wedge it open as it goes", kerf=small(kerf, None)),
        ),
        ("label the sawn faces at once", "", None, rough, "frame, hand, heel"),
        ("thickness the sawn face of half P", "moulding-edge face P", sided, sided, "to its finished siding"),
        ("thickness the sawn face of half S", "moulding-edge face S", sided, sided, "to its finished siding"),
        ("measure both halves against the line again", "", None, sided, "they may have opened or closed"),
        (
            "bevel, each to its own hand",
            "moulded line, moulding-edge face",
            None,
            sided,
            "from the bevels of that half",
        ),
    )
    return tuple(Cut(i, *row) for i, row in enumerate(rows, start=1))


def _one_layer(sizes: RipSizes, siding: float, left: float, hand: Side) -> tuple[Layer, ...]:
    """The strips of a blank for one hand, from its moulding-edge face."""
    near, far = sizes.edge_cleaning_mm, siding - left
    return (
        Layer("edge cleaning", hand, 0.0, near),
        Layer("half", hand, near, far),
        Layer("edge cleaning", hand, far, siding),
    )


def _one_cuts(sizes: RipSizes, siding: float) -> tuple[Cut, ...]:
    edge, sided = sizes.edge_cleaning_mm, sizes.sided_mm
    rows: tuple[tuple[str, str, float | None, float | None, str], ...] = (
        ("carry the marks round both edges", "", None, siding, "label, heel and head, before a face is touched"),
        ("scrape the edges", "", None, siding, "every run of glue off"),
        ("plane the moulding-edge face flat, out of wind", "that face", edge, siding - edge, ""),
        ("thickness the other face parallel to it", "moulding-edge face", sided, sided, "to its finished siding"),
        ("measure it against the line again", "", None, sided, "it may have opened or closed"),
        ("bevel it to its hand", "moulded line, moulding-edge face", None, sided, "from its bevels"),
    )
    return tuple(Cut(i, *row) for i, row in enumerate(rows, start=1))


def _half(
    hand: Side,
    word: str,
    edge: Literal["fore", "aft"],
    marks: Sequence[CarriedMark],
    bevels: Sequence[BevelMark],
) -> Half:
    """Looked at from forward, the port half lies to the right, its heel at the left; from aft the other way."""
    left = (hand == "P") == (edge == "fore")
    return Half(
        hand=hand,
        word=word,
        moulding_face=edge,
        sawn_face="aft" if edge == "fore" else "fore",
        heel_at="left" if left else "right",
        marks=tuple(mark for mark in marks if mark.hand == hand),
        bevels=tuple(_bevel(hand, bevel) for bevel in bevels),
    )


def _bevel(hand: Side, bevel: BevelMark) -> BevelCut:
    beta = bevel.bevel_rad
    tilt = beta if hand == "P" else -beta
    wood = abs(bevel.wood_mm)
    if bevel.word == "square":
        return BevelCut(hand, bevel.number, bevel.s_mm, beta, tilt, wood, "neither", "square")
    face: Literal["sawn face", "moulding-edge face"] = "sawn face" if beta < 0 else "moulding-edge face"
    towards = "S" if tilt > 0 else "P"
    text = f"{bevel.word} {format_angle(abs(beta))}, the outer face rising towards the side of half {towards}"
    return BevelCut(hand, bevel.number, bevel.s_mm, beta, tilt, wood, face, text)


def _check(sizes: RipSizes, siding: float, left: float, most: float, measured: bool) -> Check:
    ok = siding >= sizes.needed_mm - 1e-9
    if ok:
        caution = ""
    elif sizes.halves == 1:
        caution = tell("it comes out at {most} sided with its cleaning: agree that, or make it again", most=_fine(most))
    elif left >= 0:
        caution = tell(
            "{left} is left to clean off each sawn face: a sharp, fine, well-led saw, or a thinner kerf",
            left=small(left),
        )
    else:
        caution = tell(
            "both halves come out at {most} sided with their cleaning: agree that, or make it again", most=_fine(most)
        )
    return Check(
        "Siding of the blank",
        tell("{siding}{how}", siding=_fine(siding), how="" if measured else " (not measured yet)"),
        tell("{needed} or more", needed=_fine(sizes.needed_mm)),
        ok,
        f"{'sided + cleaning of edges' if sizes.halves == 1 else '2 × sided + kerf + cleaning of sawn faces and edges'}"
        f"; {COMMON}",
        caution,
    )


def _working(sizes: RipSizes, siding: float, left: float, most: float) -> Working:
    def alone(mm: float) -> str:
        return by_itself(_fine(mm))

    if sizes.halves == 1:
        return Working(
            "Thicknessing",
            tell(
                "{sided} sided; {left} to come off the other face"
                if left >= 0
                else "the blank is {left} too thin for {sided} sided",
                sided=_fine(sizes.sided_mm),
                left=small(abs(left)),
            ),
            "siding − sided − edge cleaning",
            (
                ("siding of the blank", alone(siding)),
                ("sided", alone(sizes.sided_mm)),
                ("edge cleaning", by_itself(small(sizes.edge_cleaning_mm))),
                ("most that it can be sided", alone(most)),
            ),
            COMMON,
        )
    return Working(
        "Saw line",
        tell(
            "{line} from each moulding-edge face; {left} to clean off each sawn face"
            if left >= 0
            else "{line} from each moulding-edge face; each half is then {left} short of its siding, with nothing left "
            "to clean off its sawn face",
            line=_fine(sizes.sided_mm + left),
            left=small(abs(left)),
        ),
        "sided + (siding − 2 × sided − kerf − 2 × edge cleaning) / 2",
        (
            ("siding of the blank", alone(siding)),
            ("sided", alone(sizes.sided_mm)),
            ("kerf", by_itself(small(sizes.kerf_mm))),
            ("edge cleaning", by_itself(small(sizes.edge_cleaning_mm))),
            ("most that both can be sided", alone(most)),
        ),
        COMMON,
        CAUTIONS[1],
    )


def _fine(mm: float) -> Length:
    """A siding: to the tenth of a mm, or the 64th of an inch."""
    return small(mm)

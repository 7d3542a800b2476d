"""Ways to build up one frame, side by side: waste, effort, springback and safety margin, and an order among them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from scrieve.errors import BadJig, BadLamination
from scrieve.fairing.section import Section
from scrieve.frames.blank import hands_of
from scrieve.frames.choice import FrameChoice
from scrieve.frames.design import FrameDesign, design_frame

#: What counts for how much in the order: shop default, common practice, no source.
WEIGHTS = {"waste": 1.0, "effort": 1.0, "springback": 1.0, "margin": 1.0}


@dataclass(frozen=True, slots=True)
class Option:
    """One way to build up the frame.

    `margin` is the limit over the strain of the worst lamination (1 or more meets it); `effort_nmm` the most moment
    that closes the packet; `waste` the share of the timber bought that does not end in the pair (planing of strips,
    trimming, cleaning, tapering, bevels and kerf); `springback` the share lost, `later` the share gained again on
    cleaning off. `score` is 0 for the best in everything and rises from there.
    """

    choice: FrameChoice
    words: str
    count: int
    depth_mm: float
    springback: float
    later: float
    effort_nmm: float
    clamps: int
    waste: float
    glue_g: float
    margin: float
    failed: tuple[str, ...]
    score: float


def rank_options(
    section: Section,
    choice: FrameChoice,
    timbers: Sequence[str] = (),
    thicknesses_mm: Sequence[float] = (5.0, 6.0, 8.0, 10.0, 12.0),
    steamed: Sequence[float] = (0.0,),
    cut: Callable[[float], Section | None] | None = None,
) -> tuple[Option, ...]:
    """Design the frame in several ways and set them in order: those that meet every limit first, the least score first.

    Parameters
    ----------
    section, choice
        As `design_frame` takes them; the choice's own stack, thickness and count are put aside.
    timbers : sequence of str
        'larch' or 'sapele/larch' each; the choice's own where left out.
    thicknesses_mm : sequence of float
        Thicknesses to try.
    steamed : sequence of float
        Shares of the curve to be held beforehand; see `FrameChoice.steamed_share`.
    cut : callable, optional
        As `design_frame` takes it; the far face is the same for every way, so that of a design made will do.

    Raises
    ------
    NoSuchTimber
        A timber is not in the table.
    BadLamination
        Not one of them can be laid.

    Notes
    -----
    Each figure is set on a scale from 0 (the best of those found) to 1 (the worst); the score is their mean by
    `WEIGHTS`. The margin counts only up to 2: past that it buys nothing.
    """
    made: list[FrameDesign] = []
    refused: BadLamination | BadJig | None = None
    for timber in timbers or (choice.timber,):
        for thickness in thicknesses_mm:
            for share in steamed:
                tried = replace(
                    choice, timber=timber, stack=(), count=None, lamination_mm=thickness, steamed_share=share
                )
                try:
                    made.append(design_frame(section, tried, cut))
                except (BadLamination, BadJig) as error:
                    refused = error
    if not made:
        raise refused or BadLamination("no timber and no thickness were given to choose from.")
    plain = [_figures(design) for design in made]
    table = np.array([[waste, effort, lost, -min(margin, 2.0)] for waste, effort, lost, margin, _ in plain])
    low, high = table.min(axis=0), table.max(axis=0)
    scaled = (table - low) / np.where(high > low, high - low, 1.0)
    score = scaled @ np.array(list(WEIGHTS.values())) / sum(WEIGHTS.values())
    options = [_option(design, figures, float(each)) for design, figures, each in zip(made, plain, score, strict=True)]
    return tuple(sorted(options, key=lambda option: (len(option.failed) > 0, option.score)))


def _figures(design: FrameDesign) -> tuple[float, float, float, float, float]:
    """Waste, effort, springback, margin and volume bought of one design."""
    outline, choice = design.outline, design.choice
    inner = (outline.moulding_inner_mm[1:] - outline.moulding_inner_mm[:-1]) ** 2
    outer = (outline.moulding_outer_mm[1:] - outline.moulding_outer_mm[:-1]) ** 2
    run = (np.sqrt(inner.sum(axis=1)) + np.sqrt(outer.sum(axis=1))) / 2
    depth = (outline.moulded_mm[1:] + outline.moulded_mm[:-1]) / 2
    finished = len(hands_of(choice)) * choice.sided_mm * float((run * depth).sum()) / 1e9
    bought = sum(order.volume_m3 for order in design.order)
    limits = {timber.name: choice.margin * timber.breaking_strain for timber in design.timbers}
    margin = min(limits[each.timber] / each.strain if each.strain else np.inf for each in design.packet.laminations)
    return 1 - finished / bought, design.closing.moment_nmm, abs(design.packet.springback), float(margin), bought


def _option(design: FrameDesign, figures: tuple[float, float, float, float, float], score: float) -> Option:
    waste, effort, lost, margin, _ = figures
    packet, choice = design.packet, design.choice
    held = f", steamed to hold {choice.steamed_share:.0%}" if choice.steamed_share else ""
    return Option(
        choice=choice,
        words=f"{len(packet.laminations)} × {packet.laminations[0].thickness_mm:g} mm {choice.timber}{held}",
        count=len(packet.laminations),
        depth_mm=packet.depth_mm,
        springback=lost,
        later=float(design.prediction.share_later.mean()),
        effort_nmm=effort,
        clamps=design.closing.clamps,
        waste=waste,
        glue_g=design.glue.gross_g,
        margin=margin,
        failed=tuple(check.name for check in design.checks if not check.ok),
        score=score,
    )

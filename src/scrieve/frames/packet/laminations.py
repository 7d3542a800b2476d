"""Laminations: which timbers, how thick and how many, and every limit held against them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import accumulate

import numpy as np

from scrieve.errors import BadLamination
from scrieve.frames.choice import Bearing, FrameChoice
from scrieve.frames.packet.springback import bent_rates, packet_stiffness
from scrieve.frames.packet.stack import Along, Ply, plies_of, stack_along
from scrieve.frames.parts import Array, Lamination, Packet, StripOrder
from scrieve.frames.shape.line import Line, unfolded
from scrieve.timber.bending import LEAST_RATIO, LEAST_STEAMED_RATIO, bending_strain, curvature_factor
from scrieve.timber.species import Species, species
from scrieve.wording import by_itself, length, small, tell
from scrieve.working import Check

#: Common practice, no source: thinner strips are hard to plane and waste more than they serve.
LEAST_THICKNESS_MM = 3.0

#: Common practice, no source: with five laminations or more springback is usually small.
USUAL_LEAST_COUNT = 5

#: What to do where a lamination is bent too far.
_BEND_LESS = "take thinner laminations, or steam or pre-bend these"

SHOP_DEFAULT = "shop default, common practice, no source; change it to suit"


@dataclass(frozen=True, slots=True, eq=False)
class Lay:
    """A packet laid along a moulded line: laminations from the inside outwards, and where each lies.

    `inside_mm` is how far the inner face of the full packet lies inboard of the moulded line. `neutral_mm`, `loose`,
    `glued` and `springback` are of the full packet, before any lamination is dropped; `along` tells them place by
    place. `radius_mm` (n,) is the tightest radius on which each lamination lies in the jig, `bend_mm` (n,) the one
    through which it is bent when laid up (longer where it was pre-bent).
    """

    timbers: tuple[Species, ...]
    thickness_mm: Array
    inside_mm: float
    neutral_mm: float
    loose: float
    glued: float
    springback_computed: float
    springback: float
    radius_mm: Array
    bend_mm: Array
    plies: tuple[Ply, ...]

    def along(self, s_mm: Array) -> Along:
        """What the stack is at places along the moulded line."""
        return stack_along(self.plies, s_mm)

    @property
    def outside_mm(self) -> float:
        """How far the packet's outer face stands outside the moulded line [mm]."""
        return self.depth_mm - self.inside_mm

    @property
    def straight(self) -> bool:
        """Whether the laminations are straight stock and run through from heel to head."""
        return all(
            ply.set_share == 0 and ply.set_per_mm == 0 and np.isinf([ply.first_mm, ply.last_mm]).all()
            for ply in self.plies
        )

    @property
    def depth_mm(self) -> float:
        """Depth of the packet [mm]."""
        return float(self.thickness_mm.sum())

    @property
    def middles_mm(self) -> Array:
        """(n,) middle of each lamination from the inside face [mm]."""
        return np.asarray(np.cumsum(self.thickness_mm) - self.thickness_mm / 2)


def timbers_of(text: str) -> tuple[Species, ...]:
    """Read 'larch' or 'sapele/larch'.

    Raises
    ------
    NoSuchTimber
        A timber is not in the table.
    """
    return tuple(species(part) for part in text.split("/"))


def lay(
    line: Line,
    timbers: Sequence[Species],
    thickness_mm: Sequence[float],
    outside_mm: float,
    factor: float,
    plies: Sequence[Ply] | None = None,
) -> Lay:
    """Lay laminations along a moulded line; find the neutral line, springback and the radius of each in the jig.

    Parameters
    ----------
    line : Line
        Moulded line, heel to head.
    timbers, thickness_mm : sequences of n
        From the inside outwards.
    outside_mm : float
        How far the packet's outer face stands outside the moulded line.
    factor : float
        Learnt factor on springback.
    plies : sequence of n Ply, optional
        The same laminations with their ends and pre-bending; straight and running through where left out.

    Raises
    ------
    BadLamination
        The packet's inner face folds, on the moulded line or in the jig, or a place is left without a lamination.
    """
    t = np.asarray(thickness_mm, dtype=float)
    if plies is None:
        plies = [Ply(timber, each) for timber, each in zip(timbers, t.tolist(), strict=True)]
    stiff = packet_stiffness(t, [timber.bending_modulus_mpa for timber in timbers])
    inside = float(t.sum()) - outside_mm
    unfolded(line, inside, "the inner face of the packet")
    neutral = float(stiff.neutral_mm)
    reference = line.curvature_per_mm / unfolded(line, inside - neutral, "the packet's neutral line")
    full = stack_along([replace(ply, first_mm=-np.inf, last_mm=np.inf) for ply in plies], [0.0])
    through = all(np.isinf([ply.first_mm, ply.last_mm]).all() for ply in plies)
    along = full if through else stack_along(plies, line.s_mm)  # one place stands for all
    if through:  # every figure asked for rises or falls with the line's curvature: where that is most and least will do
        reference = reference[[int(np.argmin(reference)), int(np.argmax(reference))]]
    from_outer = float(t.sum()) - neutral  # the reference line's place
    away = along.neutral_mm - from_outer
    rate, longer = bent_rates(reference, away, factor * along.share, factor * along.given)
    bent = (rate / longer)[:, None]
    stretch = 1 - bent * (along.middles_mm - from_outer)
    if np.where(along.present, stretch, 1.0).min() <= 0:
        raise BadLamination(
            "the packet folds in the jig on its inside; take a smaller moulded depth, or a joint there."
        )
    lies = np.where(along.present, bent / stretch, 0.0)
    bends = np.where(along.present, lies * (1 - along.set_share) - along.set_per_mm, 0.0)
    computed = float(full.share[0])
    return Lay(
        tuple(timbers), t, inside, neutral, float(stiff.loose), float(stiff.glued), computed, computed * factor,
        radii_of(lies), radii_of(bends), tuple(plies),
    )  # fmt: skip


def radii_of(curvature: Array) -> Array:
    """(k,) tightest radius of each lamination by its curvature (n, k) along the frame [mm]; infinite where straight."""
    tightest = np.abs(curvature).max(axis=0)
    return np.where(tightest > 1e-9, 1 / np.maximum(tightest, 1e-9), np.inf)


def choose(line: Line, choice: FrameChoice, needed_mm: float, outside_mm: float) -> Lay:
    """Choose the laminations: the fewest, none thinner than 3 mm, that meet every limit and make up the depth.

    Timbers named together are taken in turn from both faces inwards, so that the packet is symmetric: two timbers
    alternate, with two alike in the middle where the number is even. What rounding up adds is shared by both faces.
    A forced thickness or number, or an explicit stack, is laid as it is, whether it meets the limits or not. Where
    nothing meets them the thinnest packet is laid, and its checks say so.

    Raises
    ------
    NoSuchTimber
        A timber is not in the table.
    BadLamination
        The packet's inner face folds.
    """
    if choice.stack:
        timbers = [species(name) for name, _ in choice.stack]
        return _shared(line, timbers, [t for _, t in choice.stack], choice, needed_mm, outside_mm)
    named = timbers_of(choice.timber)
    candidates = _candidates(choice, needed_mm)
    folded: BadLamination | None = None

    def laid(number: int) -> Lay | None:
        nonlocal folded
        count, thickness = candidates[number]
        timbers = [named[min(i, count - 1 - i) % len(named)] for i in range(count)]
        try:
            return _shared(line, timbers, [thickness] * count, choice, needed_mm, outside_mm)
        except BadLamination as error:  # rounded up, this one is too deep for the bend; a thinner may not be
            folded = error
            return None

    first, last, found = 0, len(candidates), None  # thinner ones bend more easily: by halves
    while first < last:
        middle = (first + last) // 2
        trial = laid(middle)
        if trial is not None and _bends(trial, choice.margin):
            last, found = middle, trial
        else:
            first = middle + 1
    if found is None:  # nothing meets the limits: the thinnest that can be laid at all
        found = next((each for each in map(laid, reversed(range(len(candidates)))) if each is not None), None)
    if found is None:
        raise folded or BadLamination(
            f"frame {choice.frame}: no packet could be laid; give its laminations one by one."
        )
    return found


def _shared(
    line: Line,
    timbers: Sequence[Species],
    thickness: Sequence[float],
    choice: FrameChoice,
    needed: float,
    outside: float,
) -> Lay:
    """Lay the packet so that both its faces have the same to spare."""
    plies = plies_of(choice, timbers, thickness)
    return lay(line, timbers, thickness, outside + (sum(thickness) - needed) / 2, choice.spring_factor, plies)


def _candidates(choice: FrameChoice, needed: float) -> list[tuple[int, float]]:
    """Numbers and thicknesses to try, the thickest first; of packets of one thickness, the shallowest."""
    if choice.count is not None:
        return [(choice.count, choice.lamination_mm or _round_up(needed / choice.count, choice.step_mm))]
    if choice.lamination_mm is not None:
        return [(max(math.ceil(needed / choice.lamination_mm - 1e-9), 2), choice.lamination_mm)]
    most = max(math.ceil(needed / LEAST_THICKNESS_MM), USUAL_LEAST_COUNT)
    shallowest = {_round_up(needed / count, choice.step_mm): count for count in range(most, USUAL_LEAST_COUNT - 1, -1)}
    return [(count, thickness) for thickness, count in sorted(shallowest.items(), reverse=True)]


def _round_up(thickness: float, step: float) -> float:
    return math.ceil(thickness / step - 1e-9) * step


def _bends(found: Lay, margin: float) -> bool:
    """Whether every check of `bending_checks` is met."""
    strain = bending_strain(found.thickness_mm, found.bend_mm)
    limits = np.array([[margin * each.breaking_strain, LEAST_RATIO[each.group]] for each in found.timbers])
    return bool(np.all(strain <= limits[:, 0]) and np.all(found.bend_mm / found.thickness_mm >= limits[:, 1]))


def bending_checks(found: Lay, margin: float) -> tuple[Check, ...]:
    """Strain and R/t of the worst lamination of each timber, as it lies in the jig, against the limits named."""
    checks: list[Check] = []
    for timber in dict.fromkeys(found.timbers):
        mine = [i for i, other in enumerate(found.timbers) if other == timber]
        ratios = found.bend_mm[mine] / found.thickness_mm[mine]
        worst = mine[int(np.argmin(ratios))]
        t, radius, ratio = found.thickness_mm[worst], found.bend_mm[worst], float(ratios.min())
        strain, limit = float(bending_strain(t, radius)), margin * timber.breaking_strain
        clear = "clear-wood averages, not design values: bend a trial strip of your own stock"
        place = tell("lamination {n}, {t} on {r}", n=worst + 1, t=small(t, None), r=_shown(radius))
        checks.append(
            Check(
                f"Strain of {timber.name}",
                tell("{strain:.3f} % ({place})", strain=100 * strain, place=place),
                f"{100 * limit:.3f} % = {margin:g} × {timber.mor_mpa:g} / {timber.bending_modulus_mpa:.0f}",
                strain <= limit,
                f"t/2R by beam theory; strength and modulus: {timber.strength}; share {margin:g}: {SHOP_DEFAULT}",
                clear if strain <= limit else f"{_BEND_LESS}; {clear}",
            )
        )
        checks.append(
            Check(
                f"R/t of {timber.name}",
                tell("{r:.0f} ({place}), C_c {c:.3f}", r=ratio, place=place, c=float(curvature_factor(t, radius))),
                f"{LEAST_RATIO[timber.group]:.0f} or more ({timber.group})",
                ratio >= LEAST_RATIO[timber.group],
                "NDS limit for curved laminated members, with C_c = 1 - 2000 (t/R)²",
                "" if ratio >= LEAST_RATIO[timber.group] else _BEND_LESS,
            )
        )
    return tuple(checks)


def steaming_checks(found: Lay) -> tuple[Check, ...]:
    """R/t of the curve that a steamed lamination holds when laid up, of the sharpest; none where all are straight."""
    plies = zip(found.plies, found.radius_mm, strict=True)
    held = np.array([abs(ply.set_per_mm) or ply.set_share / radius for ply, radius in plies])
    bent = found.thickness_mm * held
    worst = int(np.argmax(bent))
    if bent[worst] <= 0:
        return ()
    ratio = 1 / float(bent[worst])
    place = tell("lamination {n}, {t} on {r}", n=worst + 1, t=small(found.thickness_mm[worst], None),
                 r=_shown(1 / float(held[worst])))  # fmt: skip
    return (
        Check(
            "R/t when steamed",
            tell("{r:.0f} ({place})", r=ratio, place=place),
            f"{LEAST_STEAMED_RATIO:.0f} or more without a strap",
            ratio >= LEAST_STEAMED_RATIO,
            "C. Whinney, Wood & Steam: above 20 easy, below 10 with a strap, 5 the usual limit",
            "steam a trial strip of your own stock first; with a strap along the outside it may go to 5",
        ),
    )


def practical_checks(found: Lay, needed_mm: float) -> tuple[Check, ...]:
    """Least thickness, usual number, depth of the packet, and whether the timbers' figures can be relied on."""
    thinnest, count = float(found.thickness_mm.min()), len(found.thickness_mm)
    checks = [
        Check(
            "Least thickness",
            by_itself(small(thinnest, None)),
            by_itself(small(LEAST_THICKNESS_MM, None)),
            thinnest >= LEAST_THICKNESS_MM,
            "common practice, no source",
        ),
        Check(
            "Number of laminations",
            f"{count}",
            f"{USUAL_LEAST_COUNT} or more",
            count >= USUAL_LEAST_COUNT,
            "common practice, no source",
            "" if count >= 4 else "fewer than four: the springback formula is for thinner laminations; try one first",
        ),
        Check(
            "Depth of the packet",
            by_itself(small(found.depth_mm)),
            tell("{t} or more", t=small(needed_mm)),
            found.depth_mm >= needed_mm - 1e-9,
            "moulded depth, bevel wood and cleaning of both faces",
            "" if found.depth_mm >= needed_mm - 1e-9 else "add a lamination, or clean off less",
        ),
    ]
    checks += [
        Check(
            f"Figures of {timber.name}",
            "from memory, unverified",
            "seen in a source",
            False,
            str(timber.strength),
            "look up strength and modulus before relying on this frame",
        )
        for timber in dict.fromkeys(found.timbers)
        if timber.unverified
    ]
    return tuple(checks)


def make_packet(found: Lay, line: Line, width_mm: float, trim_mm: float) -> Packet:
    """Put the laminations on paper: radius, strain and developed length of each, and the packet's stiffness.

    Developed lengths follow each lamination's own middle line on the finished frame, ∫(1 - κd) ds between its ends; the
    trimming allowance is added where it runs past heel or head.
    """
    laminations = []
    along = found.along(line.s_mm)
    for i, timber in enumerate(found.timbers):
        ply, t = found.plies[i], float(found.thickness_mm[i])
        first, last = max(ply.first_mm, float(line.s_mm[0])), min(ply.last_mm, float(line.s_mm[-1]))
        if first >= last:
            raise BadLamination(
                f"lamination {i + 1} lies off the frame, {first:.0f} to {last:.0f} mm along; leave it out."
            )
        length = _developed(line, along.middles_mm[:, i] - found.outside_mm, first, last)
        trim = trim_mm * (int(ply.first_mm <= line.s_mm[0]) + int(ply.last_mm >= line.s_mm[-1]))
        laminations.append(
            Lamination(
                number=i + 1,
                timber=timber.name,
                thickness_mm=t,
                modulus_mpa=timber.bending_modulus_mpa,
                radius_mm=float(found.radius_mm[i]),
                strain=float(bending_strain(t, found.bend_mm[i])),
                developed_mm=length,
                length_mm=length + trim,
                first_mm=None if np.isinf(ply.first_mm) else ply.first_mm,
                last_mm=None if np.isinf(ply.last_mm) else ply.last_mm,
                set_share=ply.set_share,
                set_radius_mm=1 / ply.set_per_mm if ply.set_per_mm else None,
            )
        )
    return Packet(
        tuple(laminations),
        width_mm,
        found.depth_mm,
        found.neutral_mm,
        found.loose * width_mm,
        found.glued * width_mm,
        found.springback,
        found.springback_computed,
    )


def _developed(line: Line, inboard_mm: Array, first: float, last: float) -> float:
    """Length of a line at a distance (n,) inboard of the moulded line between two places on it."""
    turned = np.diff(line.angle_rad) * (inboard_mm[1:] + inboard_mm[:-1]) / 2
    run = line.s_mm - np.concatenate([[0.0], np.cumsum(turned)])
    begin, end = np.interp([first, last], line.s_mm, run)
    return float(end - begin)


def joint_areas_m2(laminations: Sequence[Lamination], width_mm: float, bearing: Bearing = "inside") -> list[float]:
    """Area over which each lamination but the first lies on those laid before it, in the order they are laid [m²].

    The bearing face is laid first. A short lamination is bridged by the next long one.
    """
    order = list(laminations) if bearing == "inside" else list(reversed(laminations))
    longest = accumulate((each.length_mm for each in order), max)
    return [width_mm * min(each.length_mm, under) / 1e6 for each, under in zip(order[1:], longest, strict=False)]


def strips_to_order(packet: Packet, planing_mm: float) -> tuple[StripOrder, ...]:
    """Strips to get out of each timber and thickness; sawn sizes with planing, lengths of the longest."""
    orders = []
    for timber, t in dict.fromkeys((lamination.timber, lamination.thickness_mm) for lamination in packet.laminations):
        mine = [each for each in packet.laminations if (each.timber, each.thickness_mm) == (timber, t)]
        length, sawn, width = max(each.length_mm for each in mine), t + planing_mm, packet.width_mm + planing_mm
        volume = len(mine) * length * sawn * width / 1e9
        orders.append(StripOrder(timber, len(mine), t, sawn, width, length, volume))
    return tuple(orders)


def _shown(radius: float) -> str:
    return tell("R {r}", r=length(radius)) if math.isfinite(radius) else "R straight"

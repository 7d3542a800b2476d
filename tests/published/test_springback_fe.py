"""The springback formula against a released packet computed by finite elements (tests/published/packet_fe.py).

Source: continuum mechanics alone, solved with the general-purpose library scikit-fem. Frames of 3 m, R 0.91 m at the
bilge, or S-shaped with R 0.69 m, sprung 11 to 29 mm by the release.
"""

from dataclasses import replace

import numpy as np
import pytest
from packet_fe import Jig, misfit, released

from scrieve.frames.packet.springback import bend_back
from scrieve.frames.packet.stack import Ply, stack_along
from scrieve.frames.shape.line import from_curvature, offset
from scrieve.timber.species import species

LENGTH = 3000.0
S = np.linspace(0, LENGTH, 3001)
SHAPES = {
    "bilge": np.exp(-(((S - 1300) / 500) ** 2)) / 910 + 1 / 6000,
    "S": np.sin(2 * np.pi * S / LENGTH) / 690,
}


def both_ways(shape, thickness, modulus, last=(), curved=(), step=30.0):
    """Largest distance of the released outer face from the one wanted, and that of the unreleased one [mm]."""
    plies = [Ply(replace(species("larch"), moe_mpa=e / 1.1), float(t)) for t, e in zip(thickness, modulus, strict=True)]
    for layer, where in last:
        plies[layer] = replace(plies[layer], last_mm=where)
    natural = np.zeros(len(plies))
    for layer, radius in curved:
        plies[layer], natural[layer] = replace(plies[layer], set_per_mm=1 / radius), 1 / radius
    along = stack_along(plies, S)
    reference = float(stack_along([replace(ply, last_mm=np.inf) for ply in plies], [0.0]).neutral_mm[0])
    wanted = from_curvature(S, SHAPES[shape], np.zeros(2), 0.0)
    share, given = along.loss(wanted.curvature_per_mm)
    for _ in range(3):
        share, given = along.loss((wanted.curvature_per_mm - given) / (1 - share))
    jig = bend_back(wanted, along.neutral_mm - reference, share, given)
    ends = dict(last)
    at, before, after = released(
        Jig(jig.s_mm, jig.points_mm, jig.angle_rad, jig.curvature_per_mm),
        thickness,
        modulus,
        reference,
        kept=lambda layer, s: np.interp(s, jig.s_mm, S) <= ends.get(layer, np.inf),
        natural=natural,
        step=step,
    )
    face = offset(wanted, -reference)
    place = np.interp(at, jig.s_mm, S)
    want = np.column_stack([np.interp(place, S, face.points_mm[:, axis]) for axis in (0, 1)])
    return misfit(after, want), misfit(before, want)


PACKETS = {
    "equal": ([10] * 6, [12000] * 6),
    "two timbers in turn": ([8] * 5, [11000, 12900, 11000, 12900, 11000]),
    "unequal": ([10, 6, 6, 6, 6, 6, 10], [12000] * 7),
}


@pytest.mark.parametrize(
    ("shape", "packet"),
    [("bilge", "equal"), ("bilge", "two timbers in turn"), ("bilge", "unequal"), ("S", "equal"), ("S", "unequal")],
)
def test_packets_that_run_through(shape, packet):
    off, sprung = both_ways(shape, *PACKETS[packet])
    assert off < 0.05  # the bar over 3 m; measured 0.004 to 0.009
    assert sprung > 11  # the release is no small matter


@pytest.mark.parametrize("shape", SHAPES)
def test_two_laminations_dropped(shape):
    off, sprung = both_ways(shape, [10] * 6, [12000] * 6, last=((0, 1900.0), (1, 2300.0)), step=20.0)
    assert off < 0.2  # the bar for drops; measured 0.03 and 0.09. One share for all of it would be 2 mm out
    assert sprung > 15


def test_laminations_bent_beforehand():
    off, sprung = both_ways("bilge", [10] * 6, [12000] * 6, curved=((0, 1500.0), (5, 2000.0)))
    assert off < 0.05  # measured 0.009
    assert 11 < sprung < 14  # straight stock: 17.4


@pytest.mark.parametrize("shape", SHAPES)
def test_a_lopsided_packet(shape):
    # stiff and thick on the inside: its laminations lie on unlike radii, which the straight formula leaves out: without
    # `Along.loss` 0.11 and 0.16 mm
    off, sprung = both_ways(shape, [12, 8, 8, 8, 8], [12300, 9000, 9000, 9000, 9000])
    assert off < 0.05  # measured 0.007 and 0.009
    assert sprung > 20

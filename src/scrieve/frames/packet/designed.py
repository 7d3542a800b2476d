"""The packet of a designed frame as it lies in the jig, found again from the design."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from scrieve.frames.design import FrameDesign
from scrieve.frames.packet.bending import Bent, bend
from scrieve.frames.packet.laminations import lay
from scrieve.frames.packet.prediction import finished_movement
from scrieve.frames.packet.stack import plies_of
from scrieve.frames.shape.line import line_of
from scrieve.timber.species import species


def bent_of(design: FrameDesign) -> Bent:
    """The packet of a design, bent for the jig at steps of 1 mm: what `set_on_bed` and `plan_settings` ask for.

    Raises
    ------
    BadLamination
        A face of the packet folds.
    """
    choice, packet = design.choice, design.packet
    line = line_of(design.section)
    timbers = [species(each.timber) for each in packet.laminations]
    thickness = [each.thickness_mm for each in packet.laminations]
    plies = plies_of(choice, timbers, thickness)
    found = lay(line, timbers, thickness, design.blank.outside_mm, choice.spring_factor, plies)
    if not choice.allow_for_cleaning:
        return bend(line, found, choice)
    thin = design.outline
    full = {
        name: np.interp(line.s_mm, thin.s_mm, getattr(thin, name)) for name in ("shift_mm", "moulded_mm")
    }  # what is cleaned off hangs on these two only
    return bend(line, found, choice, finished_movement(line, found, replace(thin, s_mm=line.s_mm, **full), choice))

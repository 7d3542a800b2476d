"""What the jig's change from each frame to each other takes, for the plan of the work."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from scrieve.errors import ScrieveError
from scrieve.frames.jig.setting import JigSetting, changes
from scrieve.frames.jig.setting_kept import JigKept, frame_on_bed
from scrieve.jobs.designs import Design
from scrieve.units import Units
from scrieve.workplan.members import Setups


def setting_times(
    kept: JigKept, frames: Sequence[str], design: Design, units: Units, told: Callable[[str], bool]
) -> Setups | None:
    """Minutes to set the jig from each frame to each other, each lying as the jig's order has it; None where there are
    no frames, or one does not go on the bed.

    Parameters
    ----------
    told : callable
        Told what is being worked out; returns False to stop, with None.
    """
    labels = list(frames)
    if kept.plan:
        order = {label: n for n, label in enumerate(kept.plan.order)}
        labels.sort(key=lambda label: order.get(label, len(order)))
    jigs = []
    for label in labels:
        if not told(f"setting times of the jig: frame {label}"):
            return None
        try:
            jigs.append(frame_on_bed(*design(label), kept, units))
        except ScrieveError:
            return None
    if not jigs:
        return None
    bed = jigs[0].bed
    between = np.array([[changes(to.jig, bed, JigSetting.of_jig(one.jig)).minutes for to in jigs] for one in jigs])
    first = np.array([to.change.minutes for to in jigs])
    return Setups(tuple(labels), first, between)

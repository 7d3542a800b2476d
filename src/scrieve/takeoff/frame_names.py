"""Which frames are meant by a name: 14 where the marks tell of 14 P and 14 S, and 14 P where they tell of 14."""

from __future__ import annotations

import re
from collections.abc import Mapping

from scrieve.boat import Side
from scrieve.errors import NoSuchFrame
from scrieve.takeoff.offsets import SAME_STATION_MM

_HAND = re.compile(r"(.*[^\s_-])(?:[\s_-]+|(?<=\d))(p|s|port|starboard|stbd)", re.IGNORECASE)


def part_hand(label: str) -> tuple[str, Side]:
    """Part a frame's name from the hand that it ends with.

    Examples
    --------
    >>> part_hand("14 P"), part_hand("14s"), part_hand("14 starboard"), part_hand("stem P"), part_hand("steps")
    (('14', 'P'), ('14', 'S'), ('14', 'S'), ('stem', 'P'), ('steps', ''))
    """
    found = _HAND.fullmatch(label.strip())
    return (found[1], "P" if found[2][0] in "pP" else "S") if found else (label.strip(), "")


def frames_meant(typed: str, stations: Mapping[str, float]) -> tuple[str, ...]:
    """Return the frames that a name means: that of the name, else those that differ from it by their hand alone.

    Parameters
    ----------
    typed : str
        A name as typed.
    stations : mapping of label -> station [mm]
        The frames there are.

    Returns
    -------
    tuple of str
        None where none is meant; two only where both stand at one station.

    Raises
    ------
    NoSuchFrame
        The name may mean two frames that stand apart.

    Examples
    --------
    >>> frames_meant("14", {"14 P": 6000.0, "14 S": 6000.0}), frames_meant("14 P", {"14": 6000.0, "15": 6500.0})
    (('14 P', '14 S'), ('14',))
    """
    label = typed.strip()
    if not label:
        return ()
    if label in stations:
        return (label,)
    name, hand = part_hand(label)
    alike = [
        each for each in stations for other, own in [part_hand(each)]
        if other == name and (own == hand or not own or not hand)
    ]  # fmt: skip
    same = [each for each in alike if part_hand(each)[1] == hand] or alike
    if same and max(stations[each] for each in same) - min(stations[each] for each in same) > SAME_STATION_MM:
        told = " or ".join(f"{each} at station {stations[each]:g} mm" for each in same)
        raise NoSuchFrame(f"frame {label!r} may mean {told}; say which.")
    return tuple(sorted(same))

"""Frame 14 is found where only 14 P and 14 S were measured, and 14 P where only 14 was."""

import pytest

from scrieve.errors import NoSuchFrame
from scrieve.takeoff.frame_names import frames_meant

APART = {"13": 5500.0, "14 P": 6000.0, "14 S": 6000.0, "15 P": 6500.0, "140": 9000.0}
HANDS = {"13": 5500.0, "14": 6000.0}


@pytest.mark.parametrize(
    ("typed", "there", "met"),
    [
        ("14", APART, ("14 P", "14 S")), ("14 P", APART, ("14 P",)), ("14s", APART, ("14 S",)),
        ("15", APART, ("15 P",)), ("15 S", APART, ()), ("1", APART, ()), ("14 P", HANDS, ("14",)),
        ("14 starboard", HANDS, ("14",)), ("14", HANDS, ("14",)), ("", APART, ()), ("stem", HANDS, ()),
    ],
)  # fmt: skip
def test_which_are_meant(typed, there, met):
    assert frames_meant(typed, there) == met


def test_two_that_stand_apart_are_asked_about():
    with pytest.raises(NoSuchFrame, match="may mean 14 P at station 6000 mm or 14 S at station 6040 mm; say which"):
        frames_meant("14", {"14 P": 6000.0, "14 S": 6040.0})

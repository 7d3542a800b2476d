"""The row of operations: a hold point blocks all that follows it."""

import pytest

from scrieve.workplan.kinds import KINDS, kinds_for, links


def follow(member, first, ready_first, glued=()):
    """Every operation that waits, directly or not, until one is done."""
    found, todo = set(), [first]
    while todo:
        one = todo.pop()
        more = {after for before, after, _ in links(member, ready_first, glued) if before == one} - found
        found |= more
        todo += more
    return found


#: Making a member goes on beside the shoring of the hull; from the removal on, the hull waits for both.
ON_HULL = {"frame": ["out", "fit", "fasten", "inspect"],
           "plank": ["out", "landings", "hang", "fasten", "inspect", "caulk"]}  # fmt: skip
AFTER = {
    ("frame", "accept"): ["rip", "clean", "bevel", "prime", "fit", "fasten", "inspect"],
    ("frame", "shored"): ON_HULL["frame"],
    ("plank", "shored"): ON_HULL["plank"],
    ("plank", "inspect"): ["caulk"],
    ("frame", "inspect"): [],
}


def test_every_hold_point_is_in_the_table():
    assert {(member, kind.key) for member in KINDS for kind in kinds_for(member) if kind.hold} == set(AFTER)


@pytest.mark.parametrize(("member", "hold"), AFTER)
@pytest.mark.parametrize("ready_first", [False, True])
def test_a_hold_point_blocks_what_follows(member, hold, ready_first):
    more = {"out"} if ready_first and hold == "accept" else set()
    assert follow(member, hold, ready_first) == {*AFTER[member, hold], *more}

"""Yards and jobs to be planned: small enough to be solved at once."""

from datetime import datetime

from scrieve.workplan import Job, Member, Person, Yard
from scrieve.workplan.kinds import SKILLS

MONDAY = datetime(2026, 3, 2, 8)
ALL = frozenset(SKILLS)
HANDS = ALL - {"sign"}
LABELS = tuple(str(n) for n in range(1, 13))
#: A shop in which little is waited for.
QUICK = {"moisture_days": 2.0, "paint_h": 4.0, "sheet": {"clamp_h": 6, "full_cure_h": 8}}


def yard(people: int = 2, **more: object) -> Yard:
    """A lead hand who may sign, and others who may not."""
    crew = (Person("Lead", ALL), *(Person(f"Hand {n}", HANDS) for n in range(1, people)))
    return Yard(**{"people": crew, **QUICK, **more})  # type: ignore[arg-type]


def frames(*labels: str, clamps: int = 12) -> tuple[Member, ...]:
    return tuple(Member("frame", label, 8.0, clamps) for label in labels)


def job(*labels: str, planks: tuple[Member, ...] = ()) -> Job:
    return Job(frames(*labels) + planks, LABELS)

"""The work plan: what is done next and by whom, so that jig and people are kept busy and the hull keeps its shape.

Operations of each frame pair and plank, shop hours, people and their days off, jigs, clamps and machines, cure by the
shed's temperature, and the rule of how much of the hull may be open; planned by search, and anew from what happened.
"""

from scrieve.errors import BadPlan
from scrieve.workplan.check import faults
from scrieve.workplan.members import Did, Job, Member, Setups
from scrieve.workplan.plan import Entry, Plan
from scrieve.workplan.project import Project, Schedule, Task, schedule
from scrieve.workplan.project_file import read_project, write_project
from scrieve.workplan.search import Progress
from scrieve.workplan.solve import make_plan
from scrieve.workplan.support import CAUTION, breaches, shoring
from scrieve.workplan.yard import HullRules, Person, Yard

__all__ = [
    "CAUTION",
    "BadPlan",
    "Did",
    "Entry",
    "HullRules",
    "Job",
    "Member",
    "Person",
    "Plan",
    "Progress",
    "Project",
    "Schedule",
    "Setups",
    "Task",
    "Yard",
    "breaches",
    "faults",
    "make_plan",
    "read_project",
    "schedule",
    "shoring",
    "write_project",
]

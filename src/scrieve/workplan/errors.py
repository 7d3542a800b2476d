"""What is wrong with a plan of work, told so that it can be put right."""

from scrieve.errors import ScrieveError


class BadPlan(ScrieveError, ValueError):
    """A yard, a member or a project from which no work can be planned."""

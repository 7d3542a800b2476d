"""Fairing: from marks that are a little wrong to the fair hull, with a ± on each line and a judgement on each mark."""

from scrieve.fairing.hull import fair
from scrieve.fairing.result import FairHull, MarkOff
from scrieve.fairing.section import Section

__all__ = ["FairHull", "MarkOff", "Section", "fair"]

"""Timber: species, moisture, bending, glue and fastenings, each figure with its source."""

from scrieve.timber.glue import Glue, glue, glue_names
from scrieve.timber.species import Species, species, species_names

__all__ = ["Glue", "Species", "glue", "glue_names", "species", "species_names"]

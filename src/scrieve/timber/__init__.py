"""Timber: species, moisture, bending, glue and fastenings, each figure with its source."""

"""The boat's own pages: the hull with its members, what needs attention, finding, settings, the boat in the round."""

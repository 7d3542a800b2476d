"""The pages: the boat, a frame, a plank, and the links to their sheets, served from this machine."""

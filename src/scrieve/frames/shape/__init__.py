"""The shape of a frame: its line, its two faces, its outline and bevels."""

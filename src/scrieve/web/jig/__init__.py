"""The jig on the page: described, set for a frame, worked bracket by bracket, and the order of a set."""

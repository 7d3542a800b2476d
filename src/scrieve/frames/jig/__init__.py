"""The jig: the bed, the packet posed on it, its setting and checks, and the order of a set of frames."""

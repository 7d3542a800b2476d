"""After release: what was measured, how far it is off, what to do, and what the next jig learns."""

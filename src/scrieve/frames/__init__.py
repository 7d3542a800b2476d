"""Frames: outline and bevels, laminations, springback, the blank and its two halves, the jig."""

"""Frames: outline and bevels, laminations, springback, the blank and its two halves, the jig."""

from scrieve.frames.design import FrameChoice, FrameDesign, design_frame

__all__ = ["FrameChoice", "FrameDesign", "design_frame"]

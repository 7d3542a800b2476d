"""A frame off the jig on the page: measured, judged, learnt from, ripped."""

"""How the figures in the columns of a frame's tables came about."""

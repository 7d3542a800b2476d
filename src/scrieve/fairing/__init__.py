"""Fairing: from marks that are a little wrong to the fair batten and the fair hull, with a ± on each."""

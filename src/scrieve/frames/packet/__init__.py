"""The packet of laminations: what it is built of, how it bends and springs back, and how strong it is."""

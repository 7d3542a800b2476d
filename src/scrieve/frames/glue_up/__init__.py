"""The glue-up: its pots and minutes, its clamps, what must be signed for, and the card that tells it all."""

"""The glue-up on the page: the day, the card, its stops, and how it cures."""

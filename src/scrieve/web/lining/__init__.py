"""Lining off on the page: the shell drawn out flat, stealers, butts, fastenings, caulking."""

"""The Fairing page: body plan, suspects, diagonals, both sides, where to measure next."""

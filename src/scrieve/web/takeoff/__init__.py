"""Taking off on the page: marks of every kind, judged while they are typed, and the bevel board."""

"""The store: one boat in one SQLite file; rows in, values out, no sums."""

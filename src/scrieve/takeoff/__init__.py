"""Taking off: what was measured on the hull, read, judged at entry, and turned into points with an uncertainty."""

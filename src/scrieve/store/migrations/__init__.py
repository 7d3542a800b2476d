"""The migrations of a boat file, run by `scrieve.store.file`."""

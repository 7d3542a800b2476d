"""The same as JSON, for scripts and the pages' own scripts."""

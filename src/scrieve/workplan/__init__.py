"""The work plan."""

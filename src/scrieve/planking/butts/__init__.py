"""End joints: rules for their shift, butts planned, scarfs, and how plank ends are cut."""

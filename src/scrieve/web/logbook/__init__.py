"""The logbook on the page, the surveyor's record, and taking back."""

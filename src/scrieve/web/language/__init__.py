"""The pages' texts in one place, and the pages in another language."""

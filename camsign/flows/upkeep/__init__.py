"""A logbook checked, mended from a second copy, and joined with a friend's."""

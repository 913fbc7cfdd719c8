"""Cards that stand in the logbook: which there are, where each file went, and whose it is."""

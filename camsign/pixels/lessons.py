"""How many tags of nothing teach; apart, so that opening a logbook loads nothing that computes."""

FEWEST = 8
"""From fewer bursts tagged as nothing, of one camera in one light, nothing is learned."""

NEARBY = 60
"""So many of them, the nearest in time, are read for a batch."""

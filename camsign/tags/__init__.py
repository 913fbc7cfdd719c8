"""Who or what is in a frame, as people say it; the bucks."""

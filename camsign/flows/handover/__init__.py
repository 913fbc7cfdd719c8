"""Open formats out."""

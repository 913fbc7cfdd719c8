"""Files to plain records and back: EXIF, GPX, GeoJSON, CSV. Knows nothing of the logbook."""

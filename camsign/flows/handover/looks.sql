-- Every look at a sign as it was said, newest first; season: when it was made, NULL where it was absent.
SELECT s.kind, s.sign, g.sighting, s.lat, s.lon, g.seen_on, s.species, g.state, g.taken_as,
    g.travel_deg, g.made_from, g.made_to, s.bed_of, s.note, g.note AS seen_note, g.measures, w.season
FROM signs s JOIN sightings g USING (sign) LEFT JOIN made_windows w USING (sighting)
WHERE s.gone IS NOT TRUE AND g.gone IS NOT TRUE AND s.lat IS NOT NULL AND g.seen_on IS NOT NULL
ORDER BY g.seen_on DESC, s.sign, g.sighting

-- Every look at one sign, the oldest first, with when it was made by that look.
SELECT g.sighting, g.seen_on, g.state, g.travel_deg, g.taken_as, w.made_from, w.made_to,
    w.season, w.basis, g.note, g.measures
FROM sightings g LEFT JOIN made_windows w USING (sighting)
WHERE g.sign = $sign AND g.gone IS NOT TRUE AND g.seen_on IS NOT NULL
ORDER BY g.seen_on, g.sighting

-- Signs that stand, each with the day on which it was first seen.
SELECT s.kind, s.sign, s.lat, s.lon, min(g.seen_on)
FROM signs s JOIN sightings g USING (sign)
WHERE s.gone IS NOT TRUE AND g.gone IS NOT TRUE AND g.seen_on IS NOT NULL
GROUP BY ALL ORDER BY s.kind, s.sign

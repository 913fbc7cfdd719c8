DELETE FROM made_windows
WHERE sign IN (SELECT id FROM touched WHERE kind = 'sign');

CREATE OR REPLACE TEMP TABLE new_sightings AS
SELECT g.sign, g.sighting, s.kind, s.lat, s.lon, g.seen_on, g.state, s.species, g.made_from, g.made_to,
    g.travel_deg
FROM sightings g JOIN signs s USING (sign)
WHERE s.sign IN (SELECT id FROM touched WHERE kind = 'sign')
    AND s.gone IS NOT TRUE AND g.gone IS NOT TRUE AND g.seen_on IS NOT NULL AND s.kind IS NOT NULL
    AND abs(s.lat) <= 90 AND abs(s.lon) <= 180;

-- Sign, one row a look, with when it was made.
SELECT 'sign' AS file, season::INTEGER AS season, sign, sighting, kind, lat, lon, seen_on,
    made_from, made_to, travel_deg
FROM {main}.made_windows ORDER BY season, sign, sighting

-- Rubs with a travel that lie in an area or within 200 m of its edge: where, and which way he went.
-- Parameter: the area's id.
SELECT m.lat, m.lon, m.travel_deg
FROM made_windows m JOIN area_signs a USING (sign)
WHERE a.area = ? AND a.distance_m <= 200 AND m.kind = 'rub' AND m.travel_deg IS NOT NULL
QUALIFY row_number() OVER (PARTITION BY m.sign ORDER BY m.seen_on DESC, m.sighting DESC) = 1
ORDER BY m.lat, m.lon, m.travel_deg

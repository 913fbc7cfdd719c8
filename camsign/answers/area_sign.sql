-- Sign around areas, one row an area and sighting: how far from the edge, from the setting's limit inward.
-- in_scope: it may have been made within the days asked for.
SELECT a.area, w.sign, w.kind, w.lat, w.lon, w.travel_deg, w.season, w.made_from, w.made_to, s.bed_of,
    a.distance_m, w.made_from <= $last AND w.made_to >= $first AS in_scope
FROM made_windows w JOIN area_signs a USING (sign) LEFT JOIN signs s USING (sign)
WHERE a.area IN (SELECT unnest($areas::VARCHAR[])) AND a.distance_m <= $ring
ORDER BY w.lat, w.lon, w.made_from, w.sign

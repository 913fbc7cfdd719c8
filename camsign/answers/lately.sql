-- Fresh sign in reach of areas: seen in the days asked for and perhaps made in them.
-- $areas: ids or NULL for all; $first, $last: local days, both within; $reach [m].
SELECT a.area, count(DISTINCT w.sign) AS fresh, max(w.seen_on) AS newest
FROM made_windows w JOIN area_signs a USING (sign)
WHERE a.distance_m <= $reach AND w.seen_on BETWEEN $first AND $last AND w.made_to >= $first
    AND ($areas::VARCHAR[] IS NULL OR a.area IN (SELECT unnest($areas::VARCHAR[])))
GROUP BY a.area

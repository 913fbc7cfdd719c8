-- Fresh sign in reach of areas: it looked fresh, and was made (at the latest) in the days asked for.
-- $areas: ids or NULL for all; $first, $last: local days, both within; $reach [m].
SELECT a.area, count(DISTINCT w.sign) AS fresh, max(w.made_to) AS newest
FROM fresh_looks w JOIN area_signs a USING (sign)
WHERE a.distance_m <= $reach AND w.made_to BETWEEN $first AND $last AND w.seen_on <= $last
    AND ($areas::VARCHAR[] IS NULL OR a.area IN (SELECT unnest($areas::VARCHAR[])))
GROUP BY a.area

-- Detections of an area's cameras with a direction, by whether the camera stands inside its outline.
-- $area: its id; $reach [m]; $first, $last: local days, both within.
SELECT p.distance_m = 0 AS inside, count(*) AS n
FROM detections d JOIN area_pairs p USING (deployment)
WHERE p.area = $area AND p.distance_m <= $reach AND d.travel_deg IS NOT NULL
    AND d.day BETWEEN $first AND $last
GROUP BY ALL

-- Cameras within reach of an area on a local day, with whether they still hang when it ends, UTC.
-- Parameters: area, reach [m], begins, ends.
SELECT d.camera, bool_or(d.taken_down IS NULL OR d.taken_down >= $ends)
FROM deployments d JOIN area_pairs p USING (deployment)
WHERE p.area = $area AND p.distance_m <= $reach AND d.gone IS NOT TRUE
    AND (d.hung IS NULL OR d.hung < $ends) AND (d.taken_down IS NULL OR d.taken_down >= $begins)
GROUP BY d.camera ORDER BY d.camera

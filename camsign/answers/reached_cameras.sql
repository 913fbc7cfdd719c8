-- The deployments of each camera; if areas are asked for, those within $reach [m] of one's edge, with
-- the distance from the nearest. $areas: ids or NULL for all.
WITH near_areas AS (
    SELECT p.deployment, min(p.distance_m) AS distance_m
    FROM area_pairs p
    WHERE p.distance_m <= $reach AND p.area IN (SELECT unnest($areas::VARCHAR[]))
    GROUP BY p.deployment
)
SELECT d.camera AS spot, d.camera AS name, d.deployment, d.camera, n.distance_m
FROM deployments d LEFT JOIN near_areas n USING (deployment)
WHERE d.gone IS NOT TRUE AND ($areas::VARCHAR[] IS NULL OR n.deployment IS NOT NULL)
ORDER BY d.camera, d.hung, d.lat, d.lon, d.deployment

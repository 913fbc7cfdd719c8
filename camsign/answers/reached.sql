-- Which deployments speak for which spot. A spot is an area ($by = 'area'), with the deployments
-- within $reach [m] of its edge, or a camera ($by = 'camera'), with its own deployments; if areas
-- are asked for, with those of them that are within reach of one.
-- $areas: ids or NULL for all. One row a spot and deployment; a spot without any has one row.
WITH near_areas AS (
    SELECT a.area_id, a.name, p.deployment, p.distance_m
    FROM areas_now a
    LEFT JOIN area_pairs p ON p.area = a.area_id AND p.distance_m <= $reach
    WHERE $areas::VARCHAR[] IS NULL OR a.area_id IN (SELECT unnest($areas::VARCHAR[]))
),
standing AS (SELECT deployment, camera FROM deployments WHERE gone IS NOT TRUE)
SELECT n.area_id AS spot, n.name, d.deployment, d.camera,
    CASE WHEN d.deployment IS NOT NULL THEN n.distance_m END AS distance_m
FROM near_areas n LEFT JOIN standing d ON d.deployment = n.deployment
WHERE $by = 'area'
UNION ALL
SELECT d.camera, d.camera, d.deployment, d.camera, min(n.distance_m)
FROM standing d LEFT JOIN near_areas n ON n.deployment = d.deployment
WHERE $by = 'camera' AND ($areas::VARCHAR[] IS NULL OR n.deployment IS NOT NULL)
GROUP BY d.camera, d.deployment
ORDER BY 2, 1, 3

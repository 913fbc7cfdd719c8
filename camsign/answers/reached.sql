-- The deployments within $reach [m] of each area's edge. $areas: ids or NULL for all.
-- One row an area and deployment; an area without any has one row.
SELECT a.area_id AS spot, a.name, d.deployment, d.camera,
    CASE WHEN d.deployment IS NOT NULL THEN p.distance_m END AS distance_m
FROM areas_now a
LEFT JOIN area_pairs p ON p.area = a.area_id AND p.distance_m <= $reach
LEFT JOIN deployments d ON d.deployment = p.deployment AND d.gone IS NOT TRUE
WHERE $areas::VARCHAR[] IS NULL OR a.area_id IN (SELECT unnest($areas::VARCHAR[]))
ORDER BY a.name, a.area_id, d.hung, d.lat, d.lon, d.deployment

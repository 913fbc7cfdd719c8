-- How far each deployment is from each area's edge, up to the logbook's pair_limit_m.
SELECT 'reach' AS file, NULL::INTEGER AS season, a.name AS area, a.area_id, a.kind, p.deployment,
    d.camera, p.distance_m
FROM asked_areas a LEFT JOIN ({main}.area_pairs p
    JOIN {main}.deployments d ON d.deployment = p.deployment AND d.gone IS NOT TRUE)
    ON p.area = a.area_id
ORDER BY a.name, a.area_id, p.deployment

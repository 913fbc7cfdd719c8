-- The watch of each spot of a property in one season, night by night, as watched.sql has it for one
-- logbook. $by: area, camera, or property: all cameras are one spot. $areas: ids or NULL for all.
-- $reach [m]: NULL for the logbook's own.
CREATE OR REPLACE TEMP TABLE lake_spots AS
SELECT CASE WHEN $by = 'area' THEN r.area_id ELSE '' END AS spot, any_value(r.area) AS area,
    r.deployment, any_value(r.camera) AS camera
FROM lake_reach r, lake_property p
WHERE $by = 'area' AND r.deployment IS NOT NULL AND r.distance_m <= coalesce($reach, p.reach_m)
    AND ($areas::VARCHAR[] IS NULL OR list_contains($areas::VARCHAR[], r.area_id))
GROUP BY ALL
UNION ALL
SELECT CASE WHEN $by = 'camera' THEN camera ELSE '' END, NULL, deployment, camera
FROM lake_deployments WHERE $by <> 'area';

CREATE OR REPLACE TEMP TABLE lake_nights AS
SELECT s.spot, w.night, bool_or(w.watched) AS watched, bool_or(w.day_watched) AS day_watched,
    bool_or(w.unsorted > 0) AS unsorted, bool_or(w.day_unsorted > 0) AS day_unsorted,
    bool_or(w.set_aside > 0) AS set_aside
FROM lake_watch w JOIN lake_spots s USING (deployment)
GROUP BY ALL HAVING bool_or(w.watched OR w.day_watched);

-- Deployments that stand, with the zone they are in and the place for which the sun is reckoned;
-- and the cameras of which something is new.
CREATE OR REPLACE TEMP TABLE current_deployments AS
SELECT * REPLACE (CASE WHEN tz IS NULL OR list_contains($unknown, tz) THEN $tz ELSE tz END AS tz),
    round(lat, 2) AS sun_lat, round(lon, 2) AS sun_lon
FROM deployments
WHERE gone IS NOT TRUE AND camera IS NOT NULL AND hung IS NOT NULL
    AND abs(lat) <= 90 AND abs(lon) <= 180;

-- A frame may have gone over to another camera, with its card or because two cards hold it.
INSERT INTO touched
SELECT DISTINCT 'camera', t.camera
FROM (SELECT frame, camera FROM frame_times UNION ALL SELECT frame, camera FROM frame_twins) t
JOIN frames f USING (frame) JOIN cards_now c USING (card)
WHERE c.camera <> t.camera
    AND c.camera IN (SELECT id FROM touched WHERE kind = 'camera');

CREATE OR REPLACE TEMP TABLE new_cameras AS
SELECT DISTINCT id AS camera FROM touched WHERE kind = 'camera';

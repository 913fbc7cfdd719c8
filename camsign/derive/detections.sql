-- Tags in frames that have a place and a time.
DELETE FROM detections WHERE camera IN (SELECT id FROM touched WHERE kind = 'camera');

DELETE FROM detections WHERE frame IN (SELECT id FROM touched WHERE kind = 'frame');

CREATE OR REPLACE TEMP TABLE redo AS
SELECT id AS frame FROM touched WHERE kind = 'frame'
UNION
SELECT frame FROM frame_times
WHERE camera IN (SELECT id FROM touched WHERE kind = 'camera');

INSERT INTO detections
SELECT g.frame, g.subject, g.what, g.buck_id, g.species, g.sex, g.stage, g."count", g.travel_deg,
    g.sure, t.camera, t.deployment, t.utc, t.local, t.day, t.night, t.light, t.in_daylight,
    t.minutes_from_sunrise, t.minutes_from_sunset, t.burst, t.doubt, t.weak
FROM tags g JOIN frame_times t USING (frame)
WHERE g.frame IN (SELECT frame FROM redo)
    AND g.what <> 'nothing' AND t.utc IS NOT NULL AND t.deployment IS NOT NULL;

-- Tags in frames that have a place and a time.
DELETE FROM detections
WHERE camera IN (SELECT camera FROM retold) AND frame IN (SELECT frame FROM retold);

INSERT INTO detections BY NAME
SELECT g.*, t.* EXCLUDE (frame, sunrise, sunset, basis, time_from, several)
FROM retold_tags g JOIN retold t USING (frame)
WHERE g.what <> 'nothing' AND t.utc IS NOT NULL AND t.deployment IS NOT NULL;

CREATE OR REPLACE TEMP TABLE whole AS SELECT DISTINCT id AS camera FROM touched WHERE kind = 'camera';

-- Only with whole.
DELETE FROM detections WHERE camera IN (SELECT camera FROM whole);

-- Only with whole.
INSERT INTO detections BY NAME
SELECT g.*, t.* EXCLUDE (frame, sunrise, sunset, basis, time_from, several)
FROM tags g JOIN frame_times t USING (frame)
WHERE t.camera IN (SELECT camera FROM whole)
    AND g.what <> 'nothing' AND t.utc IS NOT NULL AND t.deployment IS NOT NULL
ORDER BY t.camera;

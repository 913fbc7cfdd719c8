-- The threshold of each light class, and of each of these cameras (or of all) whose frames with something
-- in them were tagged: nine tenths of the news that 99 in 100 of those frames exceed. From 5 tagged frames
-- on it may fall (less is set aside), to a third of the given; never rise: a rarer, paler deer may come yet.
DELETE FROM empty_thresholds
WHERE $cameras IS NULL OR camera IS NULL OR camera IN (SELECT unnest($cameras::VARCHAR[]));

INSERT INTO empty_thresholds
SELECT NULL, unnest($lights::VARCHAR[]), unnest($values::DOUBLE[]);

CREATE OR REPLACE TEMP TABLE judged AS
SELECT frame, camera, light, news FROM changes
WHERE news IS NOT NULL AND camera IS NOT NULL
    AND ($cameras IS NULL OR camera IN (SELECT unnest($cameras::VARCHAR[])));

-- Those of them that are no detections because they have no place or no time.
CREATE OR REPLACE TEMP TABLE judged_unplaced AS
SELECT frame FROM judged
WHERE frame IN (SELECT frame FROM frame_times WHERE camera IN (SELECT camera FROM judged)
    AND (utc IS NULL OR deployment IS NULL));

-- Only with judged.
INSERT INTO empty_thresholds
WITH said AS (
    SELECT frame, what, buck_id, sure FROM detections WHERE camera IN (SELECT camera FROM judged)
    UNION ALL SELECT frame, what, buck_id, sure FROM tags
    WHERE frame IN (SELECT frame FROM judged_unplaced)
),
learned AS (
    SELECT camera, light, count(*) AS n, 0.9 * quantile_disc(news, 0.01) AS low
    FROM judged
    WHERE frame IN (SELECT frame FROM said WHERE (what NOT IN ('nothing', 'unknown') OR buck_id IS NOT NULL)
        AND sure IS DISTINCT FROM 'unsure')
    GROUP BY camera, light
)
SELECT l.camera, light, greatest(threshold / 3, least(low, threshold))
FROM learned l JOIN empty_thresholds given USING (light)
WHERE n >= 5 AND given.camera IS NULL

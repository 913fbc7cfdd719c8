-- How many pictures of each night nobody has looked at yet. One set aside as likely empty counts as looked
-- at: 99 of 100 animals are kept (docs/pixels.md), and answers say how many nights rest on that.

-- Deployments of which a picture, or what is set aside, is new: all their days are counted again.
CREATE OR REPLACE TEMP TABLE resorted AS
SELECT deployment FROM frame_times
WHERE deployment IS NOT NULL AND camera IN (SELECT id FROM touched WHERE kind IN ('camera', 'batches'))
-- All its pictures may have gone over to another camera.
UNION SELECT deployment FROM deployments
WHERE camera IN (SELECT id FROM touched WHERE kind = 'camera');

DELETE FROM unsorted
WHERE deployment IN (SELECT deployment FROM resorted)
    OR (deployment, day) IN (SELECT (deployment, day) FROM retold_days)
    OR deployment NOT IN (SELECT deployment FROM deployments WHERE gone IS NOT TRUE);

CREATE OR REPLACE TEMP TABLE taken AS
SELECT frame, camera, deployment, burst, day, night FROM frame_times
WHERE deployment IN (SELECT deployment FROM resorted) AND utc IS NOT NULL
UNION ALL
FROM retold_bursts WHERE deployment NOT IN (SELECT deployment FROM resorted);

-- A burst is looked at once one of its frames is tagged, also as nothing.
-- Only with taken.
INSERT INTO unsorted
WITH tagged AS (
    SELECT frame FROM retold_tags
    UNION SELECT frame FROM tags
    WHERE frame IN (SELECT frame FROM taken WHERE deployment IN (SELECT deployment FROM resorted))
),
empties AS (
    SELECT frame FROM empty_scores
    WHERE empty_score > 0.5 AND camera IN (SELECT camera FROM taken)
        AND frame IN (SELECT frame FROM taken)
),
open AS (
    SELECT t.deployment, t.burst, min(t.day) AS day, min(t.night) AS night,
        count(*) = count(e.frame) AS likely_empty
    FROM taken t LEFT JOIN tagged g ON g.frame = t.frame LEFT JOIN empties e ON e.frame = t.frame
    GROUP BY t.deployment, t.burst HAVING count(g.frame) = 0
)
SELECT deployment, day, night, count(*) FILTER (NOT likely_empty), count(*) FILTER (likely_empty)
FROM open
WHERE deployment IN (SELECT deployment FROM resorted)
    OR (deployment, day) IN (SELECT (deployment, day) FROM retold_days)
GROUP BY deployment, day, night;

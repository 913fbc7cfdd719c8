-- How many pictures of each night nobody has looked at yet. One set aside as likely empty counts as looked
-- at: 99 of 100 animals are kept (docs/pixels.md), and answers say how many nights rest on that.

-- Deployments of which a picture, a tag, or what is set aside is new.
CREATE OR REPLACE TEMP TABLE resorted AS
SELECT DISTINCT t.deployment FROM frame_times t
WHERE t.deployment IS NOT NULL AND (
    t.camera IN (SELECT id FROM touched WHERE kind = 'camera')
    OR t.frame IN (SELECT id FROM touched WHERE kind = 'frame')
    OR EXISTS (SELECT 1 FROM touched WHERE kind = 'batches'))
-- All its pictures may have gone over to another camera.
UNION SELECT deployment FROM deployments
WHERE camera IN (SELECT id FROM touched WHERE kind = 'camera');

DELETE FROM unsorted
WHERE deployment IN (SELECT deployment FROM resorted)
    OR deployment NOT IN (SELECT deployment FROM deployments WHERE gone IS NOT TRUE);

-- A burst is looked at once one of its frames is tagged, also as nothing.
-- Only with frame_times.
INSERT INTO unsorted
WITH open AS (
    SELECT t.deployment, t.burst, min(t.day) AS day, min(t.night) AS night,
        bool_and(coalesce(e.empty_score, 0) > 0.5) AS likely_empty
    FROM frame_times t
    LEFT JOIN (SELECT DISTINCT frame FROM tags) g ON g.frame = t.frame
    LEFT JOIN empty_scores e ON e.frame = t.frame
    WHERE t.deployment IN (SELECT deployment FROM resorted) AND t.utc IS NOT NULL
    GROUP BY t.deployment, t.burst HAVING count(g.frame) = 0
)
SELECT deployment, day, night, count(*) FILTER (NOT likely_empty), count(*) FILTER (likely_empty)
FROM open GROUP BY deployment, day, night;

-- Every camera that hung or has frames: its frames, how many are untagged or in doubt, its last frame.
SELECT camera, count(frame) AS frames, count(frame) FILTER (tagged IS NULL) AS untagged,
    -- One without a time lacks a date, not a spot, once its camera was hung anywhere.
    count(frame) FILTER (deployment IS NULL AND (utc IS NOT NULL OR NOT was_hung)) AS homeless, count(doubt) AS doubtful,
    arg_max(local, utc) AS last_local, max(utc) AS last_utc
FROM (
    SELECT t.camera, t.frame, t.deployment, t.doubt, t.local, t.utc, g.frame AS tagged,
        t.camera IN (SELECT camera FROM deployments WHERE gone IS NOT TRUE) AS was_hung
    FROM frame_times t LEFT JOIN (SELECT DISTINCT frame FROM tags) g USING (frame)
    UNION ALL
    SELECT DISTINCT camera, NULL, NULL, NULL, NULL, NULL, NULL, TRUE FROM deployments
    WHERE gone IS NOT TRUE
)
WHERE camera IS NOT NULL
GROUP BY camera ORDER BY lower(camera)

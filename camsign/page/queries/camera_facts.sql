-- Every camera that hung or has frames: its frames, how many are untagged or in doubt, its last frame.
SELECT camera, count(frame) AS frames, count(frame) FILTER (tagged IS NULL) AS untagged,
    count(frame) FILTER (deployment IS NULL) AS homeless, count(doubt) AS doubtful,
    arg_max(local, utc) AS last_local, max(utc) AS last_utc
FROM (
    SELECT t.camera, t.frame, t.deployment, t.doubt, t.local, t.utc, g.frame AS tagged
    FROM frame_times t LEFT JOIN (SELECT DISTINCT frame FROM tags) g USING (frame)
    UNION ALL
    SELECT DISTINCT camera, NULL, NULL, NULL, NULL, NULL, NULL FROM deployments
    WHERE gone IS NOT TRUE
)
WHERE camera IS NOT NULL
GROUP BY camera ORDER BY lower(camera)

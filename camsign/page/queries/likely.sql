-- When each buck was seen nearest in time to a moment, by camera and deployment; not in the strip itself.
-- Sums come before names: a logbook has many detections and few bucks.
WITH tagged AS (
    SELECT buck_id, frame, camera, deployment, utc FROM detections WHERE buck_id IS NOT NULL
    UNION ALL  -- cameras that hang nowhere have no detections, and know their own bucks all the same
    SELECT t.buck_id, t.frame, s.camera, NULL, s.utc
    FROM page.strips s JOIN tags t USING (frame)
    WHERE s.deployment IS NULL AND s.utc IS NOT NULL AND t.buck_id IS NOT NULL
),
seen AS (
    SELECT buck_id AS tagged, camera, deployment,
        max(utc) FILTER (utc <= $at::TIMESTAMP) AS before,
        min(utc) FILTER (utc > $at::TIMESTAMP) AS after
    FROM tagged
    WHERE frame NOT IN (SELECT frame FROM page.strips WHERE strip = $strip)
    GROUP BY ALL
)
SELECT n.buck_id, n.name AS buck, s.camera, s.deployment, d.lat, d.lon,
    max(s.before) AS before, min(s.after) AS after
FROM seen s
JOIN bucks_now n ON n.buck = s.tagged
JOIN bucks b ON b.buck = n.buck_id AND b.gone IS NOT TRUE
LEFT JOIN deployments d ON d.deployment = s.deployment
GROUP BY ALL

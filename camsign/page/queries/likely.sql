-- What each buck's visits come to at a moment, by camera and deployment, and when he was seen there nearest
-- to it (bucks as tagged, before merges); not in the strip itself. A visit counts by how far off in time it is,
-- and by its way against the strip's where both are known. Sums come first: many detections, few bucks.
WITH tagged AS (
    SELECT buck_id, frame, camera, deployment, utc, travel_deg FROM detections WHERE buck_id IS NOT NULL
    UNION ALL  -- cameras that hang nowhere have no detections, and know their own bucks all the same
    SELECT t.buck_id, t.frame, s.camera, NULL, s.utc, NULL
    FROM page.strips s JOIN tags t USING (frame)
    WHERE s.deployment IS NULL AND s.utc IS NOT NULL AND t.buck_id IS NOT NULL
),
others AS (SELECT * FROM tagged WHERE frame NOT IN (SELECT frame FROM page.strips WHERE strip = $strip)),
seen AS (
    SELECT buck_id, camera, deployment, max(utc) FILTER (utc <= $at::TIMESTAMP) AS before,
        min(utc) FILTER (utc > $at::TIMESTAMP) AS after
    FROM others GROUP BY ALL
),
far AS ( -- some 2 miles off, where a visit counts for nothing; to sum up all of them takes long
    SELECT deployment FROM deployments
    WHERE abs(lat - $lat::DOUBLE) > 0.03 OR abs(lon - $lon::DOUBLE) > 0.03 / cos(radians($lat::DOUBLE))
),
visits AS (
    SELECT buck_id, camera, deployment, min(utc) AS utc, min_by(travel_deg, utc) AS travel_deg
    FROM others ANTI JOIN far USING (deployment)
    GROUP BY buck_id, camera, deployment, time_bucket(INTERVAL 30 MINUTES, utc)
),
sums AS (
    SELECT buck_id, camera, deployment,
        sum((exp(-abs(epoch(utc) - epoch($at::TIMESTAMP)) / 86400 / $days) + $always)
            * coalesce(1 - $ways + $ways * exp(2 * (cos(radians(travel_deg - $way::DOUBLE)) - 1)),
                1 - $ways + $ways * $any_way)) AS weight
    FROM visits GROUP BY ALL
)
SELECT s.buck_id, s.camera, s.deployment, d.lat, d.lon, s.before, s.after,
    coalesce(sums.weight, 0) AS weight
FROM seen s
LEFT JOIN sums ON sums.buck_id = s.buck_id AND sums.camera = s.camera
    AND sums.deployment IS NOT DISTINCT FROM s.deployment
LEFT JOIN deployments d ON d.deployment = s.deployment
ORDER BY ALL

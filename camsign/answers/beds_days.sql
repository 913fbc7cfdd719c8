-- Sure pictures of one buck by which a day speaks: those within reach of an area, and those in full
-- daylight farther from it than $apart [m]. $tagged: his ids as tagged; $first, $last: local days,
-- $window [min] on either side of sunrise and sunset; far: not within reach.
WITH pairs AS (SELECT deployment, distance_m FROM area_pairs WHERE area = $area)
SELECT d.day, d.utc, d.local, d.camera, d.frame, coalesce(p.distance_m > $reach, true) AS far
FROM detections d LEFT JOIN pairs p USING (deployment)
WHERE list_contains($tagged::VARCHAR[], d.buck_id) AND d.day BETWEEN $first AND $last
    AND d.doubt IS NULL AND d.sure IS DISTINCT FROM 'unsure'
    AND (p.distance_m <= $reach
        OR (coalesce(p.distance_m > $apart, true)
            AND d.minutes_from_sunrise > $window AND d.minutes_from_sunset < -$window))
ORDER BY d.utc, d.camera, d.frame

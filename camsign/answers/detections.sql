-- Detections of bucks at the deployments in reach, as numbers, in no order.
-- $deployments: the deployments in reach; at: which of them, from 0. $nameless: as many, whether bucks
-- no one named are wanted there. $tagged, $codes: equally long:
-- a buck's id as tagged, and his number.
-- $first, $last: local days, both within.
WITH here AS (
    SELECT unnest($deployments::VARCHAR[]) AS deployment, unnest($nameless::BOOLEAN[]) AS nameless,
        generate_subscripts($deployments::VARCHAR[], 1) - 1 AS at
),
who AS (SELECT unnest($tagged::VARCHAR[]) AS tagged, unnest($codes::INTEGER[]) AS code)
SELECT h.at::INTEGER AS at, coalesce(w.code, -1)::INTEGER AS buck, d.utc, d.local, d.day, d.night,
    CASE d.light WHEN 'day' THEN 2 WHEN 'gray' THEN 1 ELSE 0 END::TINYINT AS light,
    d.minutes_from_sunrise, d.minutes_from_sunset,
    d.travel_deg,
    CASE WHEN d.doubt IS NOT NULL THEN 2 WHEN w.code IS NULL OR d.sure = 'unsure' THEN 1 ELSE 0
        END::TINYINT AS apart,
    d.weak IS NOT NULL AS weak
FROM detections d JOIN here h USING (deployment) LEFT JOIN who w ON w.tagged = d.buck_id
WHERE d.day BETWEEN $first AND $last
    AND (w.code IS NOT NULL
        OR (h.nameless AND d.buck_id IS NULL AND d.what = 'animal' AND d.sex = 'male'
            AND coalesce(d.species, 'deer') = 'deer' AND d.stage IS DISTINCT FROM 'juvenile'))

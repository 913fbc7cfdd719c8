-- Detections of does and fawns at the deployments in reach, one a picture, by company:
-- 0 a doe alone, 1 does together, 2 a doe with a fawn, 3 fawns without a doe in the burst.
-- $deployments, $first, $last: as in detections.sql.
WITH here AS (
    SELECT unnest($deployments::VARCHAR[]) AS deployment,
        generate_subscripts($deployments::VARCHAR[], 1) - 1 AS at
),
frames AS (
    SELECT h.at, d.frame, d.burst, any_value(d.utc) AS utc, any_value(d.local) AS local,
        any_value(d.day) AS day, any_value(d.night) AS night, any_value(d.light) AS light,
        any_value(d.minutes_from_sunrise) AS minutes_from_sunrise,
        any_value(d.minutes_from_sunset) AS minutes_from_sunset, any_value(d.travel_deg) AS travel_deg,
        any_value(d.doubt) AS doubt, bool_or(d.weak IS NOT NULL) AS weak, bool_and(coalesce(d.sure = 'unsure', false)) AS unsure,
        coalesce(sum(coalesce(d."count", 1)) FILTER (
            d.sex = 'female' AND d.stage IS DISTINCT FROM 'juvenile'), 0) AS does,
        coalesce(bool_or(d.stage = 'juvenile'), false) AS young
    FROM detections d JOIN here h USING (deployment)
    WHERE d.day BETWEEN $first AND $last AND d.what = 'animal'
        AND coalesce(d.species, 'deer') = 'deer' AND (d.sex = 'female' OR d.stage = 'juvenile')
    GROUP BY h.at, d.frame, d.burst
),
company AS (
    SELECT s.at, s.burst, max(s.does) AS does, bool_or(s.young) AS young
    FROM frames s GROUP BY s.at, s.burst
)
SELECT f.at::INTEGER AS at,
    CASE WHEN c.young AND c.does > 0 THEN 2 WHEN c.young THEN 3 WHEN c.does > 1 THEN 1 ELSE 0
        END::INTEGER AS buck,
    f.utc, f.local, f.day, f.night,
    CASE f.light WHEN 'day' THEN 2 WHEN 'gray' THEN 1 ELSE 0 END::TINYINT AS light,
    f.minutes_from_sunrise, f.minutes_from_sunset, f.travel_deg, f.weak,
    CASE WHEN f.doubt IS NOT NULL THEN 2 WHEN f.unsure THEN 1 ELSE 0 END::TINYINT AS apart
FROM frames f JOIN company c ON c.at = f.at AND c.burst IS NOT DISTINCT FROM f.burst

-- The visits of a question, one row each, as a temporary table.
-- $spots, $deployments, $distances: equally long; which deployment speaks for which area
-- (or camera), and its distance [m] from the area's edge. $first, $last: local days, both within.
-- $bucks: ids as they are now, or NULL for all. $gap: [s].
-- apart: NULL for an identified buck at a certain time; else why the row is not counted with them.
-- on_watch: the night was watched from this spot. in_daylight: any of its detections was.
CREATE OR REPLACE TEMP TABLE visited AS
WITH reached AS (
    SELECT unnest($spots::VARCHAR[]) AS spot, unnest($deployments::VARCHAR[]) AS deployment,
        unnest($distances::DOUBLE[]) AS distance_m
),
here AS (
    SELECT d.deployment, d.camera, d.buck_id AS tagged, d.utc, d.local, d.day, d.night,
        d.in_daylight, d.minutes_from_sunrise, d.minutes_from_sunset, d.travel_deg, d.frame,
        d.doubt IS NOT NULL AS doubtful, d.sure = 'unsure' AS unsure
    FROM detections d
    WHERE d.deployment IN (SELECT unnest($deployments::VARCHAR[]))
        AND d.day BETWEEN $first AND $last
        AND (d.buck_id IS NOT NULL OR (d.what = 'animal' AND d.sex = 'male'))
),
who AS (
    SELECT here.*, b.buck_id,
        CASE WHEN doubtful THEN 'doubtful time'
            WHEN b.buck_id IS NULL OR unsure THEN 'unidentified' END AS apart
    FROM here LEFT JOIN bucks_now b ON b.buck = here.tagged
    WHERE $bucks::VARCHAR[] IS NULL OR b.buck_id IS NULL
        OR b.buck_id IN (SELECT unnest($bucks::VARCHAR[]))
),
stepped AS (
    SELECT r.spot, r.distance_m, who.*,
        coalesce(epoch(utc - lag(utc) OVER w) > $gap, true) AS starts
    FROM who JOIN reached r USING (deployment)
    WINDOW w AS (PARTITION BY r.spot, buck_id, apart ORDER BY utc, frame)
),
numbered AS (
    SELECT *, sum(starts::INTEGER) OVER (
        PARTITION BY spot, buck_id, apart ORDER BY utc, frame ROWS UNBOUNDED PRECEDING) AS visit
    FROM stepped
),
nights AS (
    SELECT DISTINCT r.spot, w.night FROM watch w JOIN reached r USING (deployment)
    WHERE w.watched AND w.night BETWEEN $first::DATE - 1 AND $last
),
visits AS (
    SELECT spot, buck_id, apart, visit, count(*) AS frames, min(utc) AS utc, max(utc) AS until_utc,
        arg_min((local, day, night, camera, distance_m, minutes_from_sunrise, minutes_from_sunset),
            (utc, frame)) AS first,
        bool_or(in_daylight) AS in_daylight
    FROM numbered GROUP BY ALL
)
SELECT v.spot, v.buck_id, v.apart, v.frames, v.utc, v.until_utc, v.first[1] AS local,
    v.first[2] AS day, v.first[3] AS night, v.first[4] AS camera, v.first[5] AS distance_m,
    v.first[6] AS minutes_from_sunrise, v.first[7] AS minutes_from_sunset, v.in_daylight,
    n.night IS NOT NULL AS on_watch
FROM visits v LEFT JOIN nights n ON n.spot = v.spot AND n.night = v.first[3]

-- Visits of each buck to each spot of a property in one season: his sure pictures with no gap longer
-- than $gap [s] (NULL: the logbook's own), as camsign.answers.detections merges them.
-- $buck_ids: NULL for all. $first: the season's first day. One row a buck and spot, with the day, light and night of each visit.
WITH seen AS (
    SELECT s.spot, d.buck_id, d.utc, d.local, d.day, d.night,
        CASE d.light WHEN 'day' THEN 2 WHEN 'gray' THEN 1 ELSE 0 END AS light
    FROM lake_detections d JOIN lake_spots s USING (deployment) JOIN lake_bucks b USING (buck_id)
    WHERE d.doubt IS NULL AND d.sure IS DISTINCT FROM 'unsure'
        AND (b.ended_on IS NULL OR d.day <= b.ended_on)
        AND ($buck_ids::VARCHAR[] IS NULL OR list_contains($buck_ids::VARCHAR[], d.buck_id))
),
stepped AS (
    SELECT seen.*, coalesce(epoch(utc - lag(utc) OVER w) > coalesce($gap, p.visit_gap_s), true)
            AS starts
    FROM seen, lake_property p WINDOW w AS (PARTITION BY spot, buck_id ORDER BY utc)
),
numbered AS (
    -- By range: pictures of one moment are of one visit, whichever of them comes first.
    SELECT *, sum(starts::INTEGER) OVER (
        PARTITION BY spot, buck_id ORDER BY utc RANGE UNBOUNDED PRECEDING) AS visit
    FROM stepped
),
visits AS (
    SELECT spot, buck_id, min(local) AS local, max(local) AS until, arg_min(day, utc) AS day,
        arg_min(night, utc) AS night, max(light) AS light
    FROM numbered GROUP BY spot, buck_id, visit
)
SELECT v.spot, v.buck_id, count(*) AS visits, count(DISTINCT v.night) AS nights_seen,
    count(*) FILTER (coalesce(n.watched AND NOT n.unsorted, false)) AS on_watch,
    count(DISTINCT v.night) FILTER (coalesce(n.watched AND NOT n.unsorted, false)) AS seen_on_watch,
    count(*) FILTER (v.light = 2) AS day, count(*) FILTER (v.light = 1) AS gray,
    count(*) FILTER (v.light = 0) AS dark, min(v.local) AS first_seen, max(v.local) AS last_seen,
    list(v.day) AS days, list(v.light) AS lights, list(v.night) AS nights
FROM visits v LEFT JOIN lake_nights n ON n.spot = v.spot AND n.night = greatest(v.night, $first)
GROUP BY ALL ORDER BY visits DESC, v.spot, v.buck_id;

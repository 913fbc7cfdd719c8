-- The strips that the filter lets through, in the order of the sorting page. A strip is shown whole
-- if one of its frames fits. part: untagged, partly, tagged, or empty (the folded tail).
WITH tagged AS (
    SELECT frame, max(sure = 'unsure') AS unsure FROM tags GROUP BY frame
),
looked AS (
    SELECT s.*, l.light, t.frame IS NOT NULL AS tagged, t.unsure, false AS empty
    FROM page.strips s
    LEFT JOIN tagged t USING (frame)
    LEFT JOIN looks l USING (frame)
),
whole AS (
    SELECT strip, min(utc) AS start, min(camera) AS camera, count(*) AS frames,
        count(*) FILTER (tagged) AS done,
        bool_and(empty) AS empty,
        bool_or(($cameras IS NULL OR list_contains($cameras::VARCHAR[], camera))
            AND ($first IS NULL OR day >= $first::DATE)
            AND ($last IS NULL OR day <= $last::DATE)
            AND ($light IS NULL OR light = $light)
            AND ($doubt IS NULL OR ($doubt = 'time' AND doubt IS NOT NULL)
                OR ($doubt = 'unsure' AND unsure))) AS fits
    FROM looked GROUP BY strip
),
parted AS (
    SELECT *, CASE WHEN done = frames THEN 'tagged' WHEN done > 0 THEN 'partly'
        WHEN empty THEN 'empty' ELSE 'untagged' END AS part
    FROM whole WHERE fits
)
SELECT strip, part, frames
FROM parted
WHERE $tagged IS NULL
    OR ($tagged = 'no' AND part IN ('untagged', 'empty'))
    OR ($tagged = 'partly' AND part = 'partly')
    OR ($tagged = 'yes' AND part IN ('tagged', 'partly'))
ORDER BY list_position(['untagged', 'partly', 'tagged', 'empty'], part),
    CASE WHEN $oldest THEN epoch_us(start) ELSE -epoch_us(start) END NULLS LAST, camera, strip

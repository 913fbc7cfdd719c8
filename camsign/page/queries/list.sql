-- The strips that the filter lets through, part by part in the order of the sorting page. A strip is shown whole,
-- and fits if its frames fulfil each condition, be it different ones. part: untagged, partly, tagged,
-- or empty (the folded tail).
WITH said AS (
    SELECT s.strip, count(*) AS done, bool_or(t.unsure) AS unsure
    FROM (SELECT frame, bool_or(sure = 'unsure') AS unsure FROM tags GROUP BY frame) t
    JOIN page.strips s USING (frame)
    GROUP BY s.strip
),
parted AS (
    SELECT v.strip, v.start, v.camera, v.frames, CASE
        WHEN s.done = v.frames THEN 'tagged' WHEN s.done > 0 THEN 'partly'
        WHEN v.empty THEN 'empty' ELSE 'untagged' END AS part
    FROM page.visits v LEFT JOIN said s USING (strip)
    WHERE ($cameras IS NULL OR list_contains($cameras::VARCHAR[], v.camera))
        AND ($deployments IS NULL OR list_contains($deployments::VARCHAR[], v.deployment))
        AND ($buck IS NULL OR v.strip IN (
            SELECT p.strip FROM tags t JOIN page.strips p USING (frame)
            JOIN bucks_now n ON n.buck = t.buck_id WHERE n.buck_id = $buck))
        AND ($first IS NULL OR v.last >= $first::DATE)
        AND ($last IS NULL OR v.first <= $last::DATE)
        AND ($light IS NULL OR list_contains(v.lights, $light))
        AND ($doubt IS NULL OR ($doubt = 'time' AND v.doubtful) OR ($doubt = 'unsure' AND s.unsure))
)
SELECT part, sum(frames)::BIGINT AS frames,
    list(strip ORDER BY CASE WHEN $oldest THEN epoch_us(start) ELSE -epoch_us(start) END NULLS LAST,
        camera, strip) AS strips
FROM parted
WHERE $tagged IS NULL
    OR ($tagged = 'no' AND part IN ('untagged', 'empty'))
    OR ($tagged = 'partly' AND part = 'partly')
    OR ($tagged = 'yes' AND part IN ('tagged', 'partly'))
GROUP BY part
ORDER BY list_position(['untagged', 'partly', 'tagged', 'empty'], part)

-- Days on which an area was watched by daylight, and whether a mature buck came by daylight; days with
-- pictures that nobody has sorted are left out. Parameters: the area, reach [m], the mature bucks' ids, the
-- first day, the last day.
WITH near AS (SELECT deployment FROM area_pairs WHERE area = $1 AND distance_m <= $2),
came AS (
    SELECT DISTINCT d.day FROM detections d JOIN near USING (deployment)
    LEFT JOIN bucks_now b ON b.buck = d.buck_id
    WHERE d.in_daylight AND d.doubt IS NULL AND d.sure IS DISTINCT FROM 'unsure'
        AND list_contains($3::VARCHAR[], coalesce(b.buck_id, d.buck_id))
)
SELECT w.night AS day, bool_or(came.day IS NOT NULL) AS came
FROM watch w JOIN near USING (deployment) LEFT JOIN came ON came.day = w.night
WHERE w.day_watched AND w.night BETWEEN $4 AND $5
    AND NOT EXISTS (
        SELECT 1 FROM unsorted u JOIN near USING (deployment) WHERE u.day = w.night AND u.bursts > 0)
GROUP BY w.night ORDER BY w.night

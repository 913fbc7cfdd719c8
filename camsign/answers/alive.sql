-- Bucks known to have been alive while a sign was made: pictured by its end, or old enough by then,
-- and pictured since, or within half a year before: nobody said that he ended. $first, $last: its made window; $season: that of $last.
SELECT b.buck
FROM bucks_now n JOIN bucks b ON b.buck = n.buck_id
JOIN detections d ON d.buck_id = n.buck
WHERE b.gone IS NOT TRUE AND d.doubt IS NULL AND d.sure IS DISTINCT FROM 'unsure'
GROUP BY b.buck, b.age, b.age_year
HAVING max(d.day) >= $first::DATE - 180
    AND (min(d.day) <= $last OR b.age + $season - coalesce(b.age_year, $season) >= 1)

-- Which deployments watched both ends of which local days, those with pictures nobody has sorted left
-- out: they are no watch. $first, $last: days, both within.
SELECT w.deployment, w.night AS day FROM watch w
WHERE w.day_watched AND w.night BETWEEN $first AND $last
    AND NOT EXISTS (
        SELECT 1 FROM unsorted u
        WHERE u.deployment = w.deployment AND u.day = w.night AND u.bursts > 0)
ORDER BY w.deployment, w.night

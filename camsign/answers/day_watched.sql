-- Which deployments watched both ends of which local days, those with pictures nobody has sorted left
-- out: they are no watch. $deployments: at: which of them, from 0. $first, $last: days, both within.
WITH here AS (
    SELECT unnest($deployments::VARCHAR[]) AS deployment,
        generate_subscripts($deployments::VARCHAR[], 1) - 1 AS at
)
SELECT h.at, w.night AS day FROM watch w JOIN here h USING (deployment)
WHERE w.day_watched AND w.night BETWEEN $first AND $last
    AND NOT EXISTS (
        SELECT 1 FROM unsorted u
        WHERE u.deployment = w.deployment AND u.day = w.night AND u.bursts > 0)

-- Visits of one buck to each deployment: detections with no gap longer than $gap [s], by their best light.
WITH his AS (
    SELECT d.deployment, d.utc, d.day, d.light,
        coalesce(epoch(d.utc - lag(d.utc) OVER w) > $gap, true) AS starts
    FROM detections d JOIN bucks_now n ON n.buck = d.buck_id
    WHERE n.buck_id = $buck AND d.doubt IS NULL AND d.sure IS DISTINCT FROM 'unsure'
        AND d.day BETWEEN $first AND $last
    WINDOW w AS (PARTITION BY d.deployment ORDER BY d.utc)
),
visits AS (
    SELECT deployment, day, light,
        sum(starts::INTEGER) OVER (PARTITION BY deployment ORDER BY utc RANGE UNBOUNDED PRECEDING) AS n
    FROM his
),
each AS (
    SELECT deployment, n, bool_or(light IN ('day', 'gray')) AS lit, max(day) AS day
    FROM visits GROUP BY deployment, n
)
SELECT d.deployment, d.camera, count(e.n) AS visits, count(e.n) FILTER (e.lit) AS lit, max(e.day) AS last
FROM deployments d LEFT JOIN each e USING (deployment)
WHERE d.gone IS NOT TRUE GROUP BY d.deployment, d.camera ORDER BY d.deployment

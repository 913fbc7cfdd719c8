-- Visits by each buck around one sign while it may have been made, by deployment.
-- $sign, $first, $last: its made window, both local days within; $gap [s].
-- buck_id: NULL for bucks no one named. visits: the days they fall on. nights: watched there in the
-- window, and sorted.
WITH near AS (
    SELECT p.deployment, p.distance_m FROM sign_pairs p WHERE p.sign = $sign
),
seen AS (
    SELECT d.deployment, d.utc, d.day,
        CASE WHEN d.sure IS DISTINCT FROM 'unsure' THEN b.buck_id END AS buck_id
    FROM detections d JOIN near USING (deployment) LEFT JOIN bucks_now b ON b.buck = d.buck_id
    WHERE d.day BETWEEN $first AND $last AND d.doubt IS NULL
        AND (d.buck_id IS NOT NULL OR (d.what = 'animal' AND d.sex = 'male'
            AND coalesce(d.species, 'deer') = 'deer' AND d.stage IS DISTINCT FROM 'juvenile'))
),
steps AS (
    SELECT deployment, buck_id, day, coalesce(epoch(utc - lag(utc) OVER (
        PARTITION BY deployment, buck_id ORDER BY utc)) > $gap, true) AS starts
    FROM seen
),
visits AS (
    SELECT deployment, buck_id, list(day) FILTER (starts) AS visits FROM steps GROUP BY ALL
),
nights AS (
    SELECT w.deployment, count(*) AS nights FROM watch w JOIN near USING (deployment)
    WHERE w.watched AND w.night BETWEEN $first AND $last AND NOT EXISTS (
        SELECT 1 FROM unsorted u
        WHERE u.deployment = w.deployment AND u.night = w.night AND u.bursts > 0)
    GROUP BY w.deployment
)
SELECT n.deployment, d.camera, n.distance_m, coalesce(g.nights, 0) AS nights, v.buck_id,
    v.visits
FROM near n JOIN deployments d USING (deployment) LEFT JOIN nights g USING (deployment)
LEFT JOIN visits v USING (deployment)
WHERE g.nights > 0 OR len(v.visits) > 0
ORDER BY n.distance_m, d.hung, n.deployment, v.buck_id

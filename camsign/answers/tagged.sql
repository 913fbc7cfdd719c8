-- Pictures in which one of these bucks is tagged, by name, and how many others nobody has sorted.
-- $deployments: those asked about, NULL for every picture, also of a camera that was not hung.
-- $first, $last: local days, both within; a picture without a day counts. $tagged, $names: equally long.
WITH who AS (SELECT unnest($tagged::VARCHAR[]) AS tagged, unnest($names::VARCHAR[]) AS name),
here AS (
    SELECT frame, night, deployment, coalesce(burst, frame) AS burst FROM frame_times
    WHERE ($deployments::VARCHAR[] IS NULL OR list_contains($deployments::VARCHAR[], deployment))
        AND (day IS NULL OR day BETWEEN $first AND $last)
),
looked AS (
    SELECT DISTINCT deployment, burst FROM here WHERE frame IN (SELECT frame FROM tags)
),
waiting AS (
    SELECT count(*) AS n FROM here h
    WHERE NOT EXISTS (
        SELECT 1 FROM looked l
        WHERE l.burst = h.burst AND l.deployment IS NOT DISTINCT FROM h.deployment)
)
SELECT name, count(DISTINCT frame) AS pictures, count(DISTINCT night) AS nights,
    (SELECT n FROM waiting) AS waiting
FROM tags JOIN here USING (frame) JOIN who ON tagged = buck_id
GROUP BY name ORDER BY pictures DESC, name

-- The watch of each spot: nights and days over which at least one of its deployments watched.
-- $spots, $deployments: equally long. $first, $last: nights by the day on whose noon they begin.
WITH reached AS (
    SELECT unnest($spots::VARCHAR[]) AS spot, unnest($deployments::VARCHAR[]) AS deployment
)
SELECT r.spot, count(DISTINCT w.night) FILTER (w.watched) AS nights,
    count(DISTINCT w.night) FILTER (w.day_watched) AS days,
    min(w.night) FILTER (w.watched) AS first, max(w.night) FILTER (w.watched) AS last
FROM watch w JOIN reached r USING (deployment)
WHERE w.night BETWEEN $first AND $last AND w.deployment IN (SELECT unnest($deployments::VARCHAR[]))
GROUP BY r.spot

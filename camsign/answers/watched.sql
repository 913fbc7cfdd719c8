-- The watch of each spot, night by night: whether at least one of its deployments watched.
-- $spots, $deployments: equally long. $first, $last: nights by the day on whose noon they begin.
WITH reached AS (
    SELECT unnest($spots::INTEGER[]) AS spot, unnest($deployments::VARCHAR[]) AS deployment
)
SELECT r.spot, w.night, bool_or(w.watched) AS watched, bool_or(w.day_watched) AS day_watched
FROM watch w JOIN reached r USING (deployment)
WHERE w.night BETWEEN $first AND $last AND (w.watched OR w.day_watched)
GROUP BY r.spot, w.night ORDER BY r.spot, w.night

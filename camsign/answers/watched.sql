-- The watch of each spot, night by night: whether at least one of its deployments watched, and whether
-- pictures of the night, or of the day of that date, from any of them wait to be sorted. What waits is
-- no absence: such a night is no watch. set_aside: pictures likely empty at which nobody looked.
-- $spots, $deployments: equally long. $first, $last: nights by the day on whose noon they begin.
WITH reached AS (
    SELECT unnest($spots::INTEGER[]) AS spot, unnest($deployments::VARCHAR[]) AS deployment
),
waiting AS (
    SELECT deployment, night, sum(bursts) AS bursts, sum(likely_empty) AS likely_empty
    FROM unsorted GROUP BY deployment, night
),
by_day AS (SELECT deployment, day, sum(bursts) AS bursts FROM unsorted GROUP BY deployment, day)
SELECT r.spot, w.night, bool_or(w.watched) AS watched, bool_or(w.day_watched) AS day_watched,
    coalesce(sum(n.bursts), 0) > 0 AS unsorted, coalesce(sum(d.bursts), 0) > 0 AS day_unsorted,
    coalesce(sum(n.likely_empty), 0) > 0 AS set_aside
FROM watch w JOIN reached r USING (deployment)
LEFT JOIN waiting n ON n.deployment = w.deployment AND n.night = w.night
LEFT JOIN by_day d ON d.deployment = w.deployment AND d.day = w.night
WHERE w.night BETWEEN $first AND $last
GROUP BY r.spot, w.night
HAVING bool_or(w.watched OR w.day_watched) ORDER BY r.spot, w.night

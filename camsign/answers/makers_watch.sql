-- How long these $deployments watched from $first to $last, and how many nights wait to be sorted.
WITH night AS (
    SELECT w.night, bool_or(w.day_watched) AS day_watched, bool_or(EXISTS (
        SELECT 1 FROM unsorted u
        WHERE u.deployment = w.deployment AND u.night = w.night AND u.bursts > 0
    )) AS waits
    FROM watch w
    WHERE list_contains($deployments::VARCHAR[], w.deployment) AND w.watched
        AND w.night BETWEEN $first AND $last
    GROUP BY w.night
)
SELECT
    count(*) FILTER (NOT waits), count(*) FILTER (day_watched AND NOT waits),
    min(night) FILTER (NOT waits), max(night) FILTER (NOT waits), count(*) FILTER (waits)
FROM night;

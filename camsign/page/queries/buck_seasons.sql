-- A buck's seasons: first and last time seen, nights seen, frames. Unsure tags and doubtful times count
-- apart and are only numbered.
SELECT year(d.day) - (strftime(d.day, '%m-%d') < $start)::INTEGER AS season,
    min(d.local) FILTER (good) AS first_local, min(d.utc) FILTER (good) AS first_utc,
    max(d.local) FILTER (good) AS last_local, max(d.utc) FILTER (good) AS last_utc,
    count(DISTINCT d.night) FILTER (good) AS nights,
    count(DISTINCT d.frame) FILTER (good) AS frames,
    count(DISTINCT d.frame) FILTER (NOT good) AS apart
FROM (
    SELECT *, sure IS DISTINCT FROM 'unsure' AND doubt IS NULL AS good FROM detections
    WHERE buck_id IN (SELECT buck FROM bucks_now WHERE buck_id = $buck)
) d
GROUP BY 1 ORDER BY 1 DESC

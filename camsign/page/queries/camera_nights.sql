-- Whole nights of every deployment that stands, and why a camera did not watch: also since no picture
-- from there is loaded.
SELECT d.camera, w.deployment, w.night, w.watched,
    CASE WHEN EXISTS (FROM frame_times t WHERE t.deployment = w.deployment) THEN w.why
        ELSE 'no card' END AS why
FROM watch w JOIN deployments d USING (deployment)
WHERE d.gone IS NOT TRUE AND w.why IS DISTINCT FROM 'only part of it' AND ($season IS NULL OR
    year(w.night) - (strftime(w.night, '%m-%d') < $start)::INTEGER = $season)
ORDER BY lower(d.camera), w.night

-- Nights of every deployment that stands, and why a camera did not watch: of the first and the last
-- it may have been up for a part only, which is no gap.
SELECT d.camera, w.deployment, w.night, w.watched, w.why
FROM watch w JOIN deployments d USING (deployment)
WHERE d.gone IS NOT TRUE AND w.why IS DISTINCT FROM 'only part of it' AND ($season IS NULL OR
    year(w.night) - (strftime(w.night, '%m-%d') < $start)::INTEGER = $season)
ORDER BY lower(d.camera), w.night

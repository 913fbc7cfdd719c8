-- Whole nights of every deployment that stands, and why a camera did not watch: also since no picture
-- from there is loaded. 'nothing': silent before the first card's pictures or between two cards'.
SELECT d.camera, w.deployment, w.night, w.watched,
    CASE WHEN NOT EXISTS (FROM frame_times t WHERE t.deployment = w.deployment) THEN 'no card'
        WHEN w.why = 'silent' AND NOT EXISTS (
            FROM card_days c
            WHERE c.deployment = w.deployment AND w.night >= c.first_day AND w.night < c.last_day
        ) THEN 'nothing' ELSE w.why END AS why
FROM watch w JOIN deployments d USING (deployment)
WHERE d.gone IS NOT TRUE AND w.why IS DISTINCT FROM 'only part of it' AND ($season IS NULL OR
    year(w.night) - (strftime(w.night, '%m-%d') < $start)::INTEGER = $season)
ORDER BY lower(d.camera), w.night

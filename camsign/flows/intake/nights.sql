-- The nights of one camera's deployments from a day on, and why it did not watch; whole nights alone,
-- at spots of which there is any picture.
SELECT w.night, w.watched, w.why
FROM watch w JOIN deployments d USING (deployment)
WHERE d.camera = $camera AND ($since IS NULL OR w.night >= $since)
    AND w.why IS DISTINCT FROM 'only part of it'
    AND EXISTS (FROM frame_times t WHERE t.deployment = w.deployment)
ORDER BY w.night

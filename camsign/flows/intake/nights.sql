-- The nights of one camera's deployments from a day on, and why it did not watch.
SELECT w.night, w.watched, w.why
FROM watch w JOIN deployments d USING (deployment)
WHERE d.camera = $camera AND ($since IS NULL OR w.night >= $since)
ORDER BY w.night

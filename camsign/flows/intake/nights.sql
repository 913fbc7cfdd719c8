-- The nights of one camera's deployments from a day on, and why it did not watch; whole nights alone,
-- at spots of which there is any picture. 'nothing': silent before the first card's pictures or between
-- two cards'.
SELECT w.night, w.watched,
    CASE WHEN w.why = 'silent' AND NOT EXISTS (
        FROM card_days c
        WHERE c.deployment = w.deployment AND w.night >= c.first_day AND w.night < c.last_day
    ) THEN 'nothing' ELSE w.why END AS why
FROM watch w JOIN deployments d USING (deployment)
WHERE d.camera = $camera AND ($since IS NULL OR w.night >= $since)
    AND w.why IS DISTINCT FROM 'only part of it'
    AND EXISTS (FROM frame_times t WHERE t.deployment = w.deployment)
ORDER BY w.night

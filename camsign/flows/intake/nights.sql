-- The whole nights of one camera from a day on, at spots of which there is any picture, and why it did
-- not watch. With its times in doubt it worked all the same.
SELECT night, watched OR coalesce(why = 'doubtful times', FALSE) AS watched, why
FROM whole_nights
WHERE camera = $camera AND ($since IS NULL OR night >= $since) AND why IS DISTINCT FROM 'no card'
ORDER BY night

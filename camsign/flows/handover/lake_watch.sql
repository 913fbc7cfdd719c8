-- Every night of every deployment: whether it watched, and whether pictures wait to be sorted.
-- unsorted: bursts of that night; day_unsorted: of the local day of that date; set_aside: bursts of the
-- night set aside as likely empty at which nobody looked.
WITH by_night AS (
    SELECT deployment, night, sum(bursts) AS bursts, sum(likely_empty) AS likely_empty
    FROM {main}.unsorted GROUP BY ALL
),
by_day AS (SELECT deployment, day, sum(bursts) AS bursts FROM {main}.unsorted GROUP BY ALL)
SELECT 'watch' AS file, season_in(w.night)::INTEGER AS season, d.camera, w.deployment, w.night,
    w.watched, w.day_watched, w.why, coalesce(n.bursts, 0)::INTEGER AS unsorted,
    coalesce(b.bursts, 0)::INTEGER AS day_unsorted, coalesce(n.likely_empty, 0)::INTEGER AS set_aside
FROM {main}.watch w JOIN {main}.deployments d USING (deployment)
LEFT JOIN by_night n ON n.deployment = w.deployment AND n.night = w.night
LEFT JOIN by_day b ON b.deployment = w.deployment AND b.day = w.night
ORDER BY season, w.deployment, w.night

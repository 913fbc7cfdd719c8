-- Deployments under no rule that anybody chose, with pictures of cards on which every time stands only in
-- a file's name; of `frames` the hour of `hour` hangs on whether the clock follows daylight saving.
WITH named AS (
    SELECT card FROM frames WHERE shown IS NOT NULL AND shown_from <> 'file'
    GROUP BY card HAVING bool_and(shown_from = 'name')
),
shot AS (
    SELECT t.deployment, t.utc, t.basis = $by_names AS switched
    FROM frame_times t JOIN frames f USING (frame)
    WHERE ($camera IS NULL OR t.camera = $camera) AND f.card IN (SELECT card FROM named)
        AND t.time_from = 'name' AND t.basis IN ('hung', $by_names)
),
hung AS (
    SELECT d.deployment, d.camera, coalesce(d.tz, $tz) AS tz, d.hung, z.offset_s
    FROM deployments d ASOF JOIN zone_offsets z ON coalesce(d.tz, $tz) = z.tz AND d.hung >= z.from_utc
)
SELECT h.deployment, h.camera, h.offset_s, bool_or(s.switched),
    count(*) FILTER (WHERE z.offset_s <> h.offset_s) AS hour
FROM shot s JOIN hung h USING (deployment) ASOF JOIN zone_offsets z ON h.tz = z.tz AND s.utc >= z.from_utc
GROUP BY ALL HAVING hour > 0
ORDER BY h.camera, h.deployment

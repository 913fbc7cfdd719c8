-- Frames as they stand: what the camera showed, the right time, the light, the burst.
SELECT f.frame, f.file, t.camera, t.deployment, f.shown AS clock_time, t.utc, t.local, l.light,
    t.burst, t.basis, t.doubt, t.minutes_from_sunrise, t.minutes_from_sunset, t.in_daylight,
    (SELECT string_agg(coalesce(b.name, concat_ws(' ', g.sex, coalesce(g.species, g.what))), ', '
        ORDER BY g.subject)
     FROM tags g LEFT JOIN bucks_now b ON b.buck = g.buck_id WHERE g.frame = f.frame) AS tags
FROM frames f
LEFT JOIN frame_times t ON t.frame = f.frame
LEFT JOIN looks l ON l.frame = f.frame
WHERE ($camera IS NULL OR t.camera = $camera)
    AND ($start IS NULL OR t.utc >= $start)
    AND ($stop IS NULL OR t.utc <= $stop)
    AND ($light IS NULL OR l.light = $light)
    AND ($doubtful IS FALSE OR t.doubt IS NOT NULL)
    AND ($untagged IS FALSE OR NOT EXISTS (SELECT 1 FROM tags g WHERE g.frame = f.frame))
ORDER BY t.camera, t.utc NULLS LAST, f.card_path, f.frame

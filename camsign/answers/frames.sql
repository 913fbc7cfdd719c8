-- Frames as they stand: what the camera showed, the right time, the light, whether anything is there.
-- Logbooks hold the light of a picture by day as 'colour'; people read and type color.
-- $likely: 'empty' or 'animal' orders bursts by how sure it is that something is there, else by time.
WITH scored AS (
    SELECT f.frame, f.file, f.card_path, t.camera, t.deployment, f.shown AS clock_time, t.utc,
        t.local, CASE l.light WHEN 'colour' THEN 'color' ELSE l.light END AS light, round(s.empty_score, 4) AS empty_score,
        s.aside AS likely_empty, s.look_first, s.cant_judge, s.news IS NOT NULL AS compared,
        t.burst, t.basis, nullif(concat_ws('; ', t.doubt, t.weak), '') AS doubt, t.time_from, t.minutes_from_sunrise, t.minutes_from_sunset, t.in_daylight,
        c.box_x, c.box_y, c.box_width, c.box_height,
        CASE greatest(d.animal, d.person, d.vehicle) WHEN 0 THEN 'nothing' WHEN d.animal THEN 'animal'
            WHEN d.person THEN 'person' WHEN d.vehicle THEN 'vehicle' END AS detected,
        greatest(d.animal, d.person, d.vehicle) AS detected_score,
        CAST(l.numbers->>'flash' AS DOUBLE) AS flash,
        CAST(l.numbers->>'washed' AS DOUBLE) AS washed,
        CAST(l.numbers->>'fogged' AS DOUBLE) AS fogged,
        CAST(l.numbers->>'blurred' AS DOUBLE) AS blurred,
        c.veiled, c.way AS estimated_way, p.facing_deg
    FROM frames f
    LEFT JOIN frame_times t ON t.frame = f.frame
    LEFT JOIN looks l ON l.frame = f.frame
    LEFT JOIN changes c ON c.frame = f.frame
    LEFT JOIN empty_scores s ON s.frame = f.frame
    LEFT JOIN detected d ON d.frame = f.frame
    LEFT JOIN deployments p ON p.deployment = t.deployment
    WHERE f.frame NOT IN (SELECT frame FROM frame_twins)
        AND ($camera IS NULL OR t.camera = $camera)
        AND ($start IS NULL OR t.utc >= $start)
        AND ($stop IS NULL OR t.utc <= $stop)
        AND ($light IS NULL OR l.light = CASE $light WHEN 'color' THEN 'colour' ELSE $light END)
        AND ($doubtful IS FALSE OR t.doubt IS NOT NULL OR t.weak IS NOT NULL)
        AND ($untagged IS FALSE OR NOT EXISTS (SELECT 1 FROM tags g WHERE g.frame = f.frame))
),
chosen AS (
    SELECT *, min(empty_score) FILTER (compared) OVER (PARTITION BY coalesce(burst, frame)) AS surest
    FROM scored
    WHERE CASE $likely WHEN 'empty' THEN likely_empty WHEN 'look' THEN look_first
            AND NOT EXISTS (SELECT 1 FROM tags g WHERE g.frame = scored.frame)
        WHEN 'animal' THEN likely_empty IS NOT TRUE AND look_first IS NOT TRUE ELSE TRUE END
)
SELECT c.* EXCLUDE (card_path, surest),
    (SELECT string_agg(coalesce(b.name, concat_ws(' ', g.sex, coalesce(g.species, g.what))), ', '
        ORDER BY g.subject)
     FROM tags g LEFT JOIN bucks_now b ON b.buck = g.buck_id WHERE g.frame = c.frame) AS tags,
    (SELECT string_agg(left(w.frame, 12), ', ' ORDER BY w.frame) FROM frame_twins w
     WHERE w.stands_for = c.frame) AS small
FROM chosen c
ORDER BY CASE WHEN $likely IN ('empty', 'animal') THEN surest END NULLS LAST,
    CASE WHEN $likely IN ('empty', 'animal') THEN burst END, camera, utc NULLS LAST, card_path, frame

-- Pictures of deer that no answer counts, by camera: it was up nowhere on their dates; and by buck: his
-- name was said and taken back, so that his tags speak of nobody.
SELECT 'camera' AS of, f.camera AS whose, count(DISTINCT t.frame) AS many
FROM tags t JOIN frame_times f ON f.frame = t.frame
WHERE f.deployment IS NULL AND f.utc IS NOT NULL AND t.what = 'animal'
    AND t.frame NOT IN (SELECT frame FROM frame_twins)
GROUP BY f.camera
UNION ALL
-- Those of doubtful time; of the hour that comes twice there is nothing to settle.
SELECT 'time', f.camera, count(DISTINCT t.frame)
FROM tags t JOIN frame_times f ON f.frame = t.frame
WHERE f.deployment IS NOT NULL AND f.doubt IS NOT NULL AND t.what = 'animal'
    AND f.doubt <> 'in the hour that fall-back repeats'
GROUP BY f.camera
UNION ALL
SELECT 'buck', t.buck_id, count(DISTINCT t.frame) FROM tags t
WHERE t.buck_id IS NOT NULL AND t.buck_id NOT IN (SELECT buck FROM bucks_now)
GROUP BY t.buck_id
ORDER BY of DESC, many DESC, whose

-- When somebody was where: at a stand, at a camera (hung, taken down, its card pulled), along a walk. A card is
-- pulled after its last picture, and before the next card's first one or before it was loaded (until): a camera
-- may have died weeks before. A camera's last card comes with it when it is taken down. A camera that sends its
-- pictures (clock 'local') is left alone.
-- Whoever logged sign stood by it: of that only the day is known, so its time is noon, local.
-- A sit lasts to its stop. Years that cannot be were mistyped, and the first has no local time at all.
SELECT what, utc, shape, lat, lon, until FROM (
SELECT 'sit' AS what, coalesce(s.stop, s.start) AS utc, p.shape::VARCHAR AS shape, NULL::DOUBLE AS lat, NULL::DOUBLE AS lon, utc AS until
FROM sits s JOIN places p ON p.place = s.stand
WHERE s.gone IS NOT TRUE AND s.start IS NOT NULL AND p.shape IS NOT NULL
UNION ALL
SELECT 'walk', started, shape::VARCHAR, NULL, NULL, started FROM walks
WHERE gone IS NOT TRUE AND started IS NOT NULL AND shape IS NOT NULL
UNION ALL
SELECT 'camera hung', hung, NULL, lat, lon, hung FROM deployments
WHERE gone IS NOT TRUE AND hung IS NOT NULL AND lat IS NOT NULL
UNION ALL
SELECT 'camera taken down', taken_down, NULL, lat, lon, taken_down FROM deployments
WHERE gone IS NOT TRUE AND taken_down IS NOT NULL AND lat IS NOT NULL
UNION ALL
SELECT 'card pulled', c.utc, NULL, d.lat, d.lon, greatest(c.utc, least(c.begins, k.taken_in_utc))
FROM (SELECT *, lead(first) OVER (PARTITION BY deployment ORDER BY utc) AS begins FROM (
    SELECT f.card, t.deployment, min(t.utc) AS first, max(t.utc) AS utc
    FROM frame_times t JOIN frames f USING (frame)
    WHERE t.utc IS NOT NULL AND t.deployment IS NOT NULL GROUP BY ALL
)) c JOIN deployments d USING (deployment) JOIN cards k USING (card)
WHERE d.gone IS NOT TRUE AND d.lat IS NOT NULL AND d.clock IS DISTINCT FROM 'local'
    AND (c.begins IS NOT NULL OR d.taken_down IS NULL OR k.taken_in_utc < d.taken_down)
UNION ALL
SELECT DISTINCT 'sign logged', CAST(g.seen_on AS TIMESTAMP) + INTERVAL 12 HOUR, NULL, s.lat, s.lon,
    CAST(g.seen_on AS TIMESTAMP) + INTERVAL 12 HOUR
FROM sightings g JOIN signs s USING (sign)
WHERE g.gone IS NOT TRUE AND s.gone IS NOT TRUE AND g.seen_on IS NOT NULL AND s.lat IS NOT NULL
) WHERE utc BETWEEN TIMESTAMP '1950-01-01' AND TIMESTAMP '2200-01-01'
ORDER BY utc, what

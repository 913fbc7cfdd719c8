-- The threshold of each light class, and of each camera whose frames with something in them were
-- tagged: nine tenths of the news that 99 in 100 of those frames exceed. From 5 tagged frames on it
-- may fall (less is set aside), from 100 on rise; never below a third, or beyond twice, the given.
INSERT INTO empty_thresholds
WITH given AS (
    SELECT unnest($lights::VARCHAR[]) AS light, unnest($values::DOUBLE[]) AS threshold
),
something AS (
    SELECT DISTINCT frame FROM tags
    WHERE (what NOT IN ('nothing', 'unknown') OR buck_id IS NOT NULL)
        AND sure IS DISTINCT FROM 'unsure'
),
learned AS (
    SELECT t.camera, l.light, count(*) AS n, 0.9 * quantile_disc(c.news, 0.01) AS low
    FROM something JOIN changes c USING (frame) JOIN frame_times t USING (frame)
    JOIN looks l USING (frame)
    WHERE c.news IS NOT NULL AND t.camera IS NOT NULL
    GROUP BY t.camera, l.light
)
SELECT NULL, light, threshold FROM given
UNION ALL
SELECT camera, light, greatest(threshold / 3,
    least(low, CASE WHEN n >= 100 THEN 2 * threshold ELSE threshold END))
FROM learned JOIN given USING (light) WHERE n >= 5

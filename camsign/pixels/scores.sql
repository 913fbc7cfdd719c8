-- The scores of these cameras' frames, or of all.
DELETE FROM empty_scores
WHERE $cameras IS NULL OR camera IN (SELECT unnest($cameras::VARCHAR[]));

CREATE OR REPLACE TEMP TABLE to_score AS
SELECT frame, camera, card, light, news, cant_judge, coalesce(comes_back, FALSE) AS comes_back
FROM changes WHERE $cameras IS NULL OR camera IN (SELECT unnest($cameras::VARCHAR[]));

-- Only with to_score.
INSERT INTO empty_scores BY NAME
WITH before AS (
    SELECT frame, min(how) AS how FROM shown -- 'kept' before 'look'
    WHERE frame IN (SELECT frame FROM to_score) GROUP BY frame
),
scored AS MATERIALIZED (
    SELECT c.*, coalesce(own.threshold, given.threshold) AS threshold, before.how,
        CASE WHEN c.news IS NULL THEN 0.0
            ELSE least(1 / (1 + (c.news / coalesce(own.threshold, given.threshold)) ** 2),
                1 - coalesce(greatest(d.animal, d.person, d.vehicle), 0)) END AS empty_score
    FROM to_score c
    LEFT JOIN detected d ON d.frame = c.frame
    LEFT JOIN before ON before.frame = c.frame
    LEFT JOIN empty_thresholds own ON own.camera = c.camera AND own.light = c.light
    JOIN empty_thresholds given ON given.camera IS NULL AND given.light = c.light
),
lights AS (
    SELECT card, light,
        4 * count(*) FILTER (empty_score > 0.5 AND NOT comes_back) > 3 * count(*) AS nearly_all
    FROM scored GROUP BY card, light
),
weighed AS (
    SELECT scored.*, empty_score > 0.5 AND how IS DISTINCT FROM 'kept' AS empty,
        coalesce(how = 'look', FALSE) OR comes_back OR nearly_all AS held
    FROM scored JOIN lights USING (card, light)
)
SELECT frame, camera, news, threshold, empty_score, cant_judge, empty AND NOT held AS aside,
    empty AND held AS look_first, how
FROM weighed
ORDER BY camera

-- Pictures in which moves of a camera are looked for: of each deployment (else camera), light class
-- and size one in six hours, the middle of its burst; 800 at most, spread over the time. `made`: a
-- name that changes when any of them does.
CREATE OR REPLACE TEMP TABLE samples AS
WITH placed AS (
    SELECT coalesce(t.deployment, t.camera) AS place, t.camera, t.deployment, l.light,
        coalesce(f.width, 0) || 'x' || coalesce(f.height, 0) AS shape,
        t.utc, epoch(t.utc) AS seconds, f.frame, c.folder,
        concat_ws(' ', l.maker, l.brightness, l.contrast, l.colour, l.sharpness) AS seen,
        row_number() OVER (PARTITION BY t.burst ORDER BY t.utc, f.frame) AS nth,
        count(*) OVER (PARTITION BY t.burst) AS n
    FROM frame_times t JOIN frames f USING (frame) JOIN looks l USING (frame) JOIN cards c USING (card)
    WHERE t.utc IS NOT NULL AND t.camera IS NOT NULL AND l.light IN ('colour', 'infrared')
        AND ($cameras IS NULL OR (list_contains($cameras, t.camera) AND f.card IN (
            SELECT card FROM cards_now WHERE list_contains($cameras, camera))))
),
slots AS (
    SELECT *, floor((seconds - min(seconds) OVER (PARTITION BY place, light, shape)) / 21600) AS slot
    FROM placed WHERE nth = n // 2 + 1
),
spread AS (
    SELECT * FROM slots
    QUALIFY row_number() OVER (PARTITION BY place, light, shape, slot ORDER BY seconds, frame) = 1
),
thinned AS (
    SELECT * FROM spread
    QUALIFY (row_number() OVER (PARTITION BY place, light, shape ORDER BY seconds, frame) - 1)
        % ceil(count(*) OVER (PARTITION BY place, light, shape) / 800) = 0
),
names AS MATERIALIZED (
    SELECT place, light, shape,
        md5($version || ' ' || string_agg(concat_ws(' ', frame, seen), ' ' ORDER BY seconds, frame)) AS made
    FROM thinned GROUP BY ALL HAVING count(*) >= 6
)
SELECT thinned.*, names.made FROM thinned JOIN names USING (place, light, shape)

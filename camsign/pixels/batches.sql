-- The frames in batches that are compared within themselves: of one deployment (else camera), one
-- light class and one size, in order of time. A batch holds 300 frames, the last up to 599, so that
-- a new card changes only the last. `made`: a name that changes when anything in it does.
CREATE OR REPLACE TEMP TABLE batches AS
WITH placed AS (
    SELECT f.frame, f.card, c.folder, l.light, f.card_path,
        coalesce(t.deployment, t.camera) AS place, t.camera,
        coalesce(f.width, 0) || 'x' || coalesce(f.height, 0) AS shape,
        epoch_us(t.utc) AS us, coalesce(t.burst, f.frame) AS burst,
        concat_ws(' ', l.maker, l.brightness, l.contrast, l.colour, l.sharpness) AS seen
    FROM frame_times t JOIN frames f USING (frame) JOIN looks l USING (frame) JOIN cards c USING (card)
    WHERE $cameras IS NULL OR (list_contains($cameras, t.camera) AND f.card IN (
        SELECT card FROM cards_now WHERE list_contains($cameras, camera))) -- passes over other cards
),
turns AS (
    SELECT *, row_number() OVER in_turn - 1 AS nth,
        count(*) OVER (PARTITION BY place, light, shape) AS n
    FROM placed
    WINDOW in_turn AS (
        PARTITION BY place, light, shape ORDER BY us NULLS LAST, card_path, frame
    )
),
parts AS (
    SELECT *, least(nth // 300, greatest(n // 300 - 1, 0)) AS part,
        coalesce(us, (1e10 + 10 * nth)::BIGINT * 1000000) AS instant
    FROM turns
),
-- Only what lies between the frames counts, in whole tenths of a second, so that a clock put right
-- by any amount changes no batch, unless frames come to another deployment by it.
spans AS (
    SELECT *, (instant - min(instant) OVER (PARTITION BY place, light, shape, part)) // 100000 / 10
        AS moment
    FROM parts
),
-- Materialized, else each frame's row works the sum out as text again, which is slow.
names AS MATERIALIZED (
    SELECT place, light, shape, part,
        md5(bit_xor(md5_number(concat_ws(' ', nth, frame, seen, burst, moment, $version)))::VARCHAR) AS made
    FROM spans GROUP BY ALL
)
SELECT spans.*, names.made FROM spans JOIN names USING (place, light, shape, part)

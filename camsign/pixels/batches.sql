-- The frames in batches that are compared within themselves: of one deployment (else camera), one
-- light class and one size, in order of time. A batch holds 300 frames, the last up to 599, so that
-- a new card changes only the last. `made`: a name that changes when anything in it does. nothing: a
-- person had tagged the frame as nothing by the time the batch's newest card came in; with such frames of
-- other batches nearby, which are not `asked`. What is tagged later changes no batch.
CREATE OR REPLACE TEMP TABLE batches AS
WITH told AS (
    SELECT t.frame, try_cast(left(min(a.said), 23) AS TIMESTAMP) AS said
    FROM tags t JOIN tag_edits e ON e.frame = t.frame AND e.what = 'nothing' AND NOT e.gone
        JOIN acts a ON a.act = e.act AND NOT a.undone
    WHERE t.what = 'nothing' AND t.sure IS DISTINCT FROM 'unsure'
    GROUP BY t.frame
),
placed AS (
    SELECT f.frame, f.card, c.folder, l.light, f.card_path,
        coalesce(t.deployment, t.camera) AS place, t.camera,
        coalesce(f.width, 0) || 'x' || coalesce(f.height, 0) AS shape,
        epoch_us(t.utc) AS us, coalesce(t.burst, f.frame) AS burst,
        concat_ws(' ', l.maker, l.brightness, l.contrast, l.colour, l.sharpness) AS seen,
        c.taken_in_utc AS taken_in, told.said
    FROM frame_times t JOIN frames f USING (frame) JOIN looks l USING (frame) JOIN cards c USING (card)
    LEFT JOIN told USING (frame)
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
parts AS MATERIALIZED (
    SELECT *, least(nth // 300, greatest(n // 300 - 1, 0)) AS part,
        coalesce(us, (1e10 + 10 * nth)::BIGINT * 1000000) AS instant
    FROM turns
),
ends AS (
    SELECT place, light, shape, part, max(taken_in) AS newest, min(instant) AS begins,
        min(nth) AS low, max(nth) AS high
    FROM parts GROUP BY ALL
),
known AS ( -- in this batch or within three of it
    SELECT p.* EXCLUDE (part), e.part, e.begins, p.part = e.part AS inside,
        min(greatest(e.low - p.nth, p.nth - e.high, 0))
            OVER (PARTITION BY place, light, shape, e.part, p.burst) AS off
    FROM parts p JOIN ends e USING (place, light, shape)
    WHERE p.said < e.newest AND abs(p.part - e.part) <= 3
),
nearest AS (
    SELECT * FROM known
    QUALIFY dense_rank() OVER (PARTITION BY place, light, shape, part ORDER BY off, burst) <= $most
),
learned AS MATERIALIZED (
    SELECT * FROM nearest SEMI JOIN (
        SELECT place, light, shape, part FROM nearest GROUP BY ALL HAVING count(DISTINCT burst) >= $fewest
    ) USING (place, light, shape, part)
),
-- Only what lies between the frames counts, in whole tenths of a second, so that a clock put right
-- by any amount changes no batch, unless frames come to another deployment by it.
spans AS (
    SELECT p.* EXCLUDE (taken_in, said, n, us), (instant - begins) // 100000 / 10 AS moment
    FROM parts p JOIN ends USING (place, light, shape, part)
),
-- Materialized, else each frame's row works the sum out as text again, which is slow.
names AS MATERIALIZED (
    SELECT place, light, shape, part,
        bit_xor(md5_number(concat_ws(' ', nth, frame, seen, burst, moment, $version)))::VARCHAR AS held
    FROM spans GROUP BY ALL
),
taught AS MATERIALIZED (
    SELECT place, light, shape, part, bit_xor(md5_number(concat_ws(' ', nth, frame, seen)))::VARCHAR AS taught
    FROM learned GROUP BY ALL
),
made AS (
    SELECT place, light, shape, part, md5(concat_ws(' ', held, taught)) AS made
    FROM names LEFT JOIN taught USING (place, light, shape, part)
)
SELECT s.*, m.made, l.frame IS NOT NULL AS nothing, TRUE AS asked
FROM spans s JOIN made m USING (place, light, shape, part)
LEFT JOIN learned l ON l.frame = s.frame AND l.inside
UNION ALL BY NAME
SELECT l.* EXCLUDE (taken_in, said, n, us, begins, inside, off), m.made,
    (instant - begins) // 100000 / 10 AS moment, TRUE AS nothing, FALSE AS asked
FROM learned l JOIN made m USING (place, light, shape, part) WHERE NOT inside

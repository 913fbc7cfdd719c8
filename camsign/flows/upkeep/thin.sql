-- Frames whose bytes may go. `nothing`: a person said that nothing is in it. `beyond`: neither among the
-- best $keep pictures of any visit it belongs to, nor chosen to know a buck by. Best as in a buck's best
-- pictures: those chosen first, then by day, then by sharpness. With $keep NULL only the first kind.
WITH chosen AS (SELECT DISTINCT frame FROM reference_pictures WHERE gone IS NOT TRUE),
empty AS (
    SELECT frame FROM tags GROUP BY frame HAVING bool_and(what = 'nothing')
),
steps AS (
    SELECT d.frame, coalesce(n.buck_id, d.subject) AS who, d.camera, d.utc, d.light,
        CASE WHEN d.utc - lag(d.utc) OVER his <= to_microseconds(($gap_s * 1e6)::BIGINT)
            THEN 0 ELSE 1 END AS starts
    FROM detections d LEFT JOIN bucks_now n ON n.buck = d.buck_id
    WINDOW his AS (PARTITION BY coalesce(n.buck_id, d.subject), d.camera ORDER BY d.utc, d.frame)
),
visits AS (
    SELECT *, sum(starts) OVER (PARTITION BY who, camera ORDER BY utc, frame) AS visit FROM steps
),
ranked AS (
    SELECT v.frame, row_number() OVER (
        PARTITION BY v.who, v.camera, v.visit
        ORDER BY v.frame IN (FROM chosen) DESC, v.light = 'day' DESC, l.sharpness DESC NULLS LAST,
            v.utc, v.frame) AS place
    FROM visits v LEFT JOIN looks l ON l.frame = v.frame
),
beyond AS (
    SELECT frame FROM ranked WHERE $keep IS NOT NULL
    GROUP BY frame HAVING min(place) > $keep
)
SELECT f.frame, f.sha256, f.kind, f.bytes, f.file, c.card, c.camera,
    f.frame IN (FROM empty) AS nothing
FROM frames f JOIN cards_now c ON c.card = f.card
WHERE (f.frame IN (FROM empty) OR f.frame IN (FROM beyond)) AND f.frame NOT IN (FROM chosen)
ORDER BY f.file

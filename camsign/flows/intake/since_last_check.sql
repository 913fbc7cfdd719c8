-- What the check of one camera brought, before anything is judged. $cards: the cards just taken in.
WITH mine AS MATERIALIZED (
    SELECT t.*, f.card FROM frame_times t JOIN frames f USING (frame)
    WHERE t.camera = $camera AND f.card IN (SELECT card FROM cards_now WHERE camera = $camera)
),
fresh AS (SELECT * FROM mine WHERE list_contains($cards::VARCHAR[], card)),
was_hung AS (
    SELECT count(*) > 0 AS ever FROM deployments WHERE camera = $camera AND gone IS NOT TRUE
),
latest AS (SELECT deployment FROM mine WHERE utc IS NOT NULL ORDER BY utc DESC LIMIT 1),
read AS (
    SELECT max(taken_in_utc) AS at FROM cards WHERE list_contains($cards::VARCHAR[], card)
)
SELECT
    (SELECT max(utc) FROM mine WHERE NOT list_contains($cards::VARCHAR[], card)) AS last_check,
    (SELECT count(*) FROM fresh) AS frames,
    (SELECT count(*) FROM fresh WHERE NOT EXISTS (FROM tags g WHERE g.frame = fresh.frame)) AS untagged,
    -- Once its camera was hung anywhere, a picture lacks a date, or its date disagrees with the hang.
    (SELECT count(*) FROM fresh, was_hung WHERE deployment IS NULL AND NOT ever) AS homeless,
    (SELECT count(*) FROM fresh, was_hung WHERE deployment IS NULL AND utc IS NULL AND ever) AS undated,
    (SELECT coalesce(list(DISTINCT camera), []) FROM deployments WHERE gone IS NOT TRUE) AS hung,
    (SELECT min(day) FROM fresh) AS first_day,
    (SELECT min(day) FROM fresh WHERE deployment IS NOT NULL) AS first_placed,
    (SELECT max(utc) FROM mine) AS last_utc,
    (SELECT list(DISTINCT day ORDER BY day) FROM mine WHERE day IS NOT NULL) AS days,
    -- When it was taken down, as people said: a move only says by when.
    (SELECT max(d.taken_down) FROM deployments d JOIN latest USING (deployment)
        WHERE d.worked_to_end IS NOT TRUE AND NOT EXISTS (
            SELECT 1 FROM deployments o
            WHERE o.camera = d.camera AND o.gone IS NOT TRUE AND o.hung = d.taken_down
        )) AS taken_down,
    -- How far the other cameras' cards go that were read in the same days, if up to these days.
    (SELECT max(t.utc) FROM frame_times t JOIN frames f USING (frame) JOIN cards c USING (card), read
        WHERE t.camera <> $camera
            AND c.taken_in_utc BETWEEN read.at - to_days($pocket) AND read.at
            AND t.utc BETWEEN read.at - to_days($pocket) AND read.at) AS others_utc,
    (SELECT bool_or(d.taken_down IS NULL) FROM deployments d JOIN latest USING (deployment)) AS hangs,
    (SELECT coalesce(list(DISTINCT b.name ORDER BY b.name), [])
        FROM card_files c JOIN tags USING (frame) JOIN bucks_now b ON b.buck = tags.buck_id
        WHERE c.known AND list_contains($cards::VARCHAR[], c.card)) AS bucks

-- What the check of one camera brought, before anything is judged. $cards: the cards just taken in.
WITH mine AS (
    SELECT t.*, f.card FROM frame_times t JOIN frames f USING (frame) WHERE t.camera = $camera
),
fresh AS (SELECT * FROM mine WHERE list_contains($cards::VARCHAR[], card))
SELECT
    (SELECT max(utc) FROM mine WHERE NOT list_contains($cards::VARCHAR[], card)) AS last_check,
    (SELECT count(*) FROM fresh) AS frames,
    (SELECT count(*) FROM fresh WHERE frame NOT IN (SELECT frame FROM tags)) AS untagged,
    (SELECT count(*) FROM fresh WHERE deployment IS NULL) AS homeless,
    (SELECT min(day) FROM fresh) AS first_day,
    (SELECT max(utc) FROM mine) AS last_utc,
    (SELECT list(DISTINCT day ORDER BY day) FROM mine WHERE day IS NOT NULL) AS days,
    (SELECT max(taken_in_utc) FROM cards WHERE list_contains($cards::VARCHAR[], card)) AS taken_in,
    (SELECT bool_or(taken_down IS NULL) FROM deployments
        WHERE camera = $camera AND gone IS NOT TRUE) AS hangs,
    (SELECT coalesce(list(DISTINCT b.name ORDER BY b.name), [])
        FROM card_files c JOIN tags USING (frame) JOIN bucks_now b ON b.buck = tags.buck_id
        WHERE c.known AND list_contains($cards::VARCHAR[], c.card)) AS bucks

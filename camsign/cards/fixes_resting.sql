-- Fixes by which pictures of $cards go, said since each card is its camera's: since it was loaded, or
-- since somebody last said whose it is.
WITH mine AS (
    SELECT card, camera, greatest(taken_in_utc, (
        SELECT max(left(a.said, -6)::TIMESTAMP) FROM field_edits e
        JOIN acts a ON a.act = e.act AND NOT a.undone
        WHERE e.thing = 'card' AND e.field = 'camera' AND e.id = c.card
    )) AS since
    FROM cards_now c WHERE list_contains($cards::VARCHAR[], card)
),
said AS (
    SELECT e.id, max(left(a.said, -6)::TIMESTAMP) AS said FROM field_edits e
    JOIN acts a ON a.act = e.act AND NOT a.undone
    WHERE e.thing = 'clock_fix' AND e.field = 'value' GROUP BY e.id
)
SELECT m.camera, list(DISTINCT s.id ORDER BY s.id)
FROM mine m JOIN frames f ON f.card = m.card JOIN frame_times t ON t.frame = f.frame
JOIN said s ON t.basis = 'correction ' || s.id AND s.said >= m.since
GROUP BY m.camera ORDER BY m.camera

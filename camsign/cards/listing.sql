-- Cards with the span of the right times of their frames (UTC); of one camera, or some cards, or all.
SELECT c.card, c.camera, c.new + c.known AS frames, min(t.utc) AS first, max(t.utc) AS last,
    c.new, c.refused, c.taken_in_utc, c.safe_to_wipe, c.known_by,
    CASE WHEN r.camera <> c.camera THEN r.camera END AS taken_as, c.folder, c.source
FROM cards_now c
JOIN cards r ON r.card = c.card AND r.folder = c.folder
LEFT JOIN card_files f ON f.card = c.card
LEFT JOIN frame_twins w ON w.frame = f.frame
LEFT JOIN frame_times t ON t.frame = coalesce(w.stands_for, f.frame)
WHERE ($camera IS NULL OR c.camera = $camera)
    AND ($cards IS NULL OR list_contains($cards::VARCHAR[], c.card))
GROUP BY ALL
ORDER BY first NULLS LAST, c.card

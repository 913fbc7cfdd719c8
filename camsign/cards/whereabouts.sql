-- Every file of one card, where its bytes are in the logbook, and which full picture a small one goes with.
SELECT DISTINCT f.card_path, f.frame, frames.file,
    CASE WHEN frames.card <> $card THEN frames.card END AS from_card, w.stands_for
FROM card_files f LEFT JOIN (
    SELECT frame, card, file FROM frames UNION ALL SELECT frame, card, file FROM besides
) frames USING (frame)
LEFT JOIN frame_twins w ON w.frame = f.frame
WHERE f.card = $card
ORDER BY f.card_path

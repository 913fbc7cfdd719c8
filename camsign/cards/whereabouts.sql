-- Every file of one card, and where its bytes are in the logbook.
SELECT DISTINCT f.card_path, f.frame, frames.file,
    CASE WHEN frames.card <> $card THEN frames.card END AS from_card
FROM card_files f LEFT JOIN (
    SELECT frame, card, file FROM frames UNION ALL SELECT frame, card, file FROM besides
) frames USING (frame)
WHERE f.card = $card
ORDER BY f.card_path

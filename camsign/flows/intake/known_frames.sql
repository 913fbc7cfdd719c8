-- Every frame with its card's camera, in the order of its number.
SELECT frames.frame, cards_now.camera, frames.file, frames.bytes
FROM (
    SELECT frame, card, file, bytes FROM frames
    UNION ALL SELECT frame, card, file, bytes FROM besides
) frames JOIN cards_now USING (card)
ORDER BY frames.frame

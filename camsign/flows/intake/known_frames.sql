-- Frames of these sizes [bytes], each with its card's camera and its file inside the logbook.
SELECT frames.frame, cards_now.camera, frames.file, frames.bytes
FROM (
    SELECT frame, card, file, bytes FROM frames
    UNION ALL SELECT frame, card, file, bytes FROM besides
) frames JOIN cards_now USING (card)
WHERE frames.bytes IN (SELECT unnest($sizes::BIGINT[]))

-- Frames that are not set aside, and not noted so yet: the folder of the card that holds them, the
-- frame, and how they show.
CREATE OR REPLACE TEMP TABLE newly_shown AS
SELECT split_part(f.file, '/', 2) AS folder, f.card, e.frame,
    CASE WHEN e.look_first THEN 'look' ELSE 'kept' END AS how
FROM empty_scores e JOIN frames f USING (frame)
WHERE NOT e.aside AND (e.how IS NULL OR (e.how = 'look' AND NOT e.look_first));
SELECT folder, frame, how FROM newly_shown ORDER BY ALL

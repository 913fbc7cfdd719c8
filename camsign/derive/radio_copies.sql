-- The small pictures that cameras sent by radio, each with the full one that its card brought: of one
-- camera, of the same second as it showed it, and of no more than half the pixels. Several of one second
-- go with one another in the order of their files. A file's own stamp is no reading of the clock. Which
-- of the two came in first never matters; a small one without its full one counts.
CREATE OR REPLACE TEMP TABLE twins_before AS SELECT frame, stands_for FROM frame_twins;

DELETE FROM frame_twins WHERE camera IN (SELECT camera FROM new_cameras);

-- Only with frames.
INSERT INTO frame_twins
WITH shot AS (
    SELECT f.frame, c.camera, left(f.shown, 19) AS second, f.card_path,
        f.width::BIGINT * f.height AS pixels
    FROM frames f JOIN cards_now c USING (card)
    WHERE c.camera IN (SELECT camera FROM new_cameras) AND f.kind IN ('jpeg', 'png', 'heic')
        AND f.shown IS NOT NULL AND f.shown_from IS DISTINCT FROM 'file' AND f.width * f.height > 0
    -- Hardly any second has two: the rest need not be put in order.
    QUALIFY count(*) OVER (PARTITION BY c.camera, left(f.shown, 19)) > 1
),
ranked AS (
    SELECT *, max(pixels) OVER (PARTITION BY camera, second) AS most,
        row_number() OVER (PARTITION BY camera, second, pixels ORDER BY card_path, frame) AS nth
    FROM shot
)
SELECT small.frame, small.camera, whole.frame
FROM ranked small JOIN ranked whole USING (camera, second, nth)
WHERE whole.pixels = whole.most AND 2 * small.pixels <= small.most;

-- What was said of the small one counts for the full one: their tags are to be made again.
CREATE OR REPLACE TEMP TABLE fresh_frames AS
WITH changed AS (
    (SELECT frame, stands_for FROM frame_twins EXCEPT SELECT * FROM twins_before)
    UNION (SELECT * FROM twins_before EXCEPT SELECT frame, stands_for FROM frame_twins)
)
SELECT frame FROM changed UNION SELECT stands_for FROM changed;

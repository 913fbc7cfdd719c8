-- Every frame with the strip it lies in: what one camera showed without a gap longer than the visit
-- gap. A strip's id is its first frame. Frames without a time lie in strips of twelve, by file order.
CREATE OR REPLACE TABLE page.strips AS
WITH placed AS (
    SELECT t.frame, t.camera, t.deployment, t.utc, t.local, t.day, t.night, t.in_daylight, t.doubt,
        coalesce(t.burst, t.frame) AS burst, f.card, f.card_path,
        CASE WHEN t.utc IS NULL THEN f.card ELSE coalesce(t.deployment, '') END AS within
    FROM frame_times t JOIN frames f USING (frame)
),
steps AS (
    SELECT *, CASE
        WHEN utc IS NULL THEN (row_number() OVER in_turn - 1) % 12 = 0
        ELSE (utc - lag(utc) OVER in_turn
            <= to_microseconds(CAST($gap * 1e6 AS BIGINT))) IS NOT TRUE END AS starts
    FROM placed
    WINDOW in_turn AS (PARTITION BY camera, within, utc IS NULL ORDER BY utc, card_path, frame)
),
begun AS (
    SELECT *, last_value(CASE WHEN starts THEN frame END IGNORE NULLS) OVER (
        PARTITION BY camera, within, utc IS NULL ORDER BY utc, card_path, frame
        ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW) AS strip
    FROM steps
)
SELECT frame, camera, deployment, card, utc, local, day, night, in_daylight, doubt, burst,
    strip, row_number() OVER (PARTITION BY strip ORDER BY utc, card_path, frame) AS place
FROM begun
ORDER BY utc, camera, place

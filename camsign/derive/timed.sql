-- The frames of new cameras, each with its deployment, its UTC and why that may be wrong.
CREATE OR REPLACE TEMP TABLE shots AS
SELECT f.frame, c.camera, f.card, f.card_path, f.offset_minutes, c.taken_in_utc,
    f.shown AS shown_text, f.shown_from, f.software,
    f.shown_from = 'file' AND c.file_times IS NOT TRUE AS unconfirmed,
    -- A file's own stamp is no reading of any clock until somebody says that it is.
    CASE WHEN NOT coalesce(unconfirmed, FALSE) THEN TRY_CAST(f.shown AS TIMESTAMP) END AS shown,
    '' AS lane
FROM frames f JOIN cards_now c USING (card)
WHERE c.camera IN (SELECT camera FROM new_cameras)
    AND f.frame NOT IN (SELECT frame FROM frame_twins);

UPDATE shots SET shown = NULL WHERE year(shown) NOT BETWEEN 1900 AND 2199;

-- Frames of which a correction speaks by the order of their files on a card; the last word wins.
-- Only with frame_fixes.
UPDATE shots SET lane = l.lane FROM (
    WITH placed AS (SELECT frame, camera, card, nth_file(card, card_path) AS nth FROM shots),
    ends AS (
        SELECT x.lane, x.camera, x.said, coalesce(a.card, b.card) AS card, a.nth AS first, b.nth AS last
        FROM frame_fixes x LEFT JOIN placed a ON a.frame = x.from_frame
            LEFT JOIN placed b ON b.frame = x.until_frame
        WHERE (x.from_frame IS NULL OR a.frame IS NOT NULL)
            AND (x.until_frame IS NULL OR b.frame IS NOT NULL)
            AND coalesce(a.card = b.card, TRUE)
    )
    SELECT p.frame, arg_max(e.lane, e.said) AS lane
    FROM placed p JOIN ends e ON e.card = p.card AND e.camera = p.camera
        AND p.nth BETWEEN coalesce(e.first, p.nth) AND coalesce(e.last, p.nth)
    GROUP BY p.frame
) l WHERE l.frame = shots.frame;

-- Pictures that state a UTC offset, with the zones that have it within a year of their time.
CREATE OR REPLACE TEMP TABLE stated AS
SELECT DISTINCT s.frame, z.tz
FROM shots s JOIN zone_offsets z ON z.offset_s = s.offset_minutes * 60
    AND s.shown >= z.from_utc - CASE WHEN z.from_utc > TIMESTAMP '1900-01-01'
        THEN INTERVAL 366 DAY ELSE INTERVAL 0 DAY END
    AND s.shown < z.until_utc + CASE WHEN z.until_utc < TIMESTAMP '2200-01-01'
        THEN INTERVAL 366 DAY ELSE INTERVAL 0 DAY END;

-- Hours that a clock showed twice, and the frames in them. Once the clock is seen to step back, by
-- the order of the files of a card, the frames belong to the second pass.
CREATE OR REPLACE TEMP TABLE twice AS
SELECT a.deployment, a.lane, b.shown_from AS start, a.shown_until AS stop
FROM clock_pieces a JOIN clock_pieces b ON a.deployment = b.deployment AND a.lane = b.lane
    AND a.shown_from < b.shown_from AND a.shown_until > b.shown_from
WHERE a.deployment IN (SELECT deployment FROM current_deployments JOIN new_cameras USING (camera));

CREATE OR REPLACE TEMP TABLE in_twice AS
WITH placed AS (
    SELECT s.*, t.deployment, t.start, nth_file(s.card, s.card_path) AS nth
    FROM shots s JOIN current_deployments d USING (camera) JOIN twice t
        ON t.deployment = d.deployment AND t.lane = s.lane AND s.shown >= t.start AND s.shown < t.stop
),
steps AS (
    SELECT *, shown < lag(shown) OVER (PARTITION BY deployment, start, card ORDER BY nth) AS back FROM placed
)
SELECT frame, deployment, coalesce(bool_or(back) OVER (
    PARTITION BY deployment, start, card ORDER BY nth
    ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW
), false) AS second
FROM steps;

-- What an app on a phone named has the phone's time, which is local time: with the offset it then has
-- from UTC, in the hour that comes twice that of the first pass.
CREATE OR REPLACE TEMP TABLE phoned AS
SELECT s.frame, z.tz, max(z.offset_s) AS offset_s, count(*) > 1 AS twice
FROM shots s JOIN zone_offsets z ON s.shown - to_seconds(z.offset_s) >= z.from_utc
    AND s.shown - to_seconds(z.offset_s) < z.until_utc
WHERE s.shown_from = 'name' AND s.offset_minutes IS NULL
    AND regexp_matches(s.card_path, $phones, 'i')
GROUP BY s.frame, z.tz;

CREATE OR REPLACE TEMP TABLE fits AS
SELECT s.frame, d.deployment, d.hung, p.estimated, ph.frame IS NOT NULL AS by_phone, ph.twice AS phone_twice,
    CASE WHEN by_phone THEN 'a phone''s name, local' ELSE p.basis END AS basis,
    st.frame IS NOT NULL AND p.own_s IS NOT NULL AS own,
    s.offset_minutes IS NOT NULL AND st.frame IS NULL AND p.own_s IS NOT NULL AS disbelieved,
    s.shown - to_microseconds(CAST(round(1e6 * (
        CASE WHEN by_phone THEN ph.offset_s WHEN st.frame IS NOT NULL AND p.own_s IS NOT NULL
            THEN s.offset_minutes * 60 + p.own_s ELSE p.offset_s END
        + CASE WHEN by_phone THEN 0 ELSE p.drift END * ((epoch_us(s.shown) - epoch_us(p.shown_from)) / 1e6)
    )) AS BIGINT)) AS utc
FROM shots s
JOIN current_deployments d ON d.camera = s.camera
JOIN clock_pieces p ON p.deployment = d.deployment AND p.lane = s.lane
    AND s.shown >= p.shown_from AND s.shown < p.shown_until
LEFT JOIN stated st ON st.frame = s.frame AND st.tz = d.tz
LEFT JOIN phoned ph ON ph.frame = s.frame AND ph.tz = d.tz AND p.basis NOT LIKE 'correction %'
WHERE utc >= d.hung AND (d.taken_down IS NULL OR utc <= d.taken_down);

CREATE OR REPLACE TEMP TABLE chosen AS
SELECT f.*, coalesce(f.phone_twice, t.frame IS NOT NULL) AS twice,
    min(f.deployment) OVER whole <> max(f.deployment) OVER whole AS several
FROM fits f LEFT JOIN in_twice t ON t.frame = f.frame AND t.deployment = f.deployment
WINDOW whole AS (PARTITION BY f.frame)
QUALIFY row_number() OVER (
    PARTITION BY f.frame
    ORDER BY f.hung DESC, f.deployment, CASE WHEN t.second THEN -1 ELSE 1 END * epoch_us(f.utc)
) = 1;

-- Wall-clock time of the logbook's zone, in spans without the hour that comes twice: its first pass.
CREATE OR REPLACE TEMP TABLE walls AS
SELECT offset_s, CASE WHEN from_utc < TIMESTAMP '1900-01-01' THEN from_utc ELSE
    from_utc + to_seconds(greatest(offset_s, lag(offset_s, 1, offset_s) OVER (ORDER BY from_utc)))
    END AS from_shown
FROM zone_offsets WHERE tz = $tz;

CREATE OR REPLACE TEMP TABLE timed AS
SELECT s.frame, s.camera, s.card, s.card_path, s.shown, s.shown_text, s.shown_from, s.software,
    s.unconfirmed, s.taken_in_utc, c.deployment,
    coalesce(d.tz, $tz) AS tz, coalesce(d.sun_lat, $lat) AS sun_lat, coalesce(d.sun_lon, $lon) AS sun_lon,
    coalesce(c.utc, s.shown - to_seconds(w.offset_s)) AS utc,
    CASE WHEN s.shown IS NULL THEN NULL WHEN c.frame IS NULL THEN 'no deployment'
        WHEN c.own AND c.basis = 'hung' THEN 'offset in the picture' ELSE c.basis END AS basis,
    c.estimated, c.twice, c.several, c.disbelieved,
    a.first_hung, a.last_down
FROM shots s
ASOF LEFT JOIN walls w ON s.shown >= w.from_shown
LEFT JOIN chosen c ON c.frame = s.frame
LEFT JOIN current_deployments d ON d.deployment = c.deployment
LEFT JOIN (
    SELECT camera, min(hung) AS first_hung, max(coalesce(taken_down, 'infinity')) AS last_down
    FROM current_deployments GROUP BY camera
) a ON a.camera = s.camera;

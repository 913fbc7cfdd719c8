DELETE FROM frame_times WHERE camera IN (SELECT camera FROM new_cameras);

-- Only with timed.
INSERT INTO frame_times
WITH local AS (
    SELECT t.*, t.utc + to_seconds(z.offset_s) AS local
    FROM timed t ASOF LEFT JOIN zone_offsets z ON z.tz = t.tz AND t.utc >= z.from_utc
),
steps AS (
    SELECT *, local::DATE AS day, coalesce(regexp_matches(software, $editors, 'i'), FALSE) AS edited,
        utc - lag(utc) OVER in_turn <= to_microseconds(CAST($gap * 1e6 AS BIGINT)) AS follows
    FROM local
    WINDOW in_turn AS (PARTITION BY camera ORDER BY utc, card_path, frame)
),
bursts AS (
    SELECT *, last_value(CASE WHEN follows IS NOT TRUE THEN frame END IGNORE NULLS) OVER (
        PARTITION BY camera ORDER BY utc, card_path, frame
        ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW
    ) AS burst
    FROM steps
),
-- Where nights are short, a sunset may come after midnight and a sunrise before it: until the light
-- of the day before is gone, and once that of the next has begun, a frame is theirs.
lit AS (
    SELECT b.*,
        CASE WHEN b.utc < y.sunset + $after THEN y.sunrise
            WHEN b.utc >= m.sunrise - $before THEN m.sunrise ELSE s.sunrise END AS sunrise,
        CASE WHEN b.utc < y.sunset + $after THEN y.sunset
            WHEN b.utc >= m.sunrise - $before THEN m.sunset ELSE s.sunset END AS sunset,
        CASE WHEN s.day IS NULL THEN NULL
            WHEN (b.utc >= s.up_from AND b.utc < s.up_until)
                OR (b.utc >= y.up_from AND b.utc < y.up_until)
                OR (b.utc >= m.up_from AND b.utc < m.up_until) THEN 'day'
            WHEN (b.utc >= s.sunrise - $before AND b.utc < s.sunrise)
                OR (b.utc >= s.sunset AND b.utc < s.sunset + $after)
                OR (b.utc >= y.sunset AND b.utc < y.sunset + $after)
                OR (b.utc >= m.sunrise - $before AND b.utc < m.sunrise) THEN 'gray'
            ELSE 'dark' END AS light
    FROM bursts b
    LEFT JOIN sun_days s
        ON s.tz = b.tz AND s.lat = b.sun_lat AND s.lon = b.sun_lon AND s.day = b.day
    LEFT JOIN sun_days y
        ON y.tz = b.tz AND y.lat = b.sun_lat AND y.lon = b.sun_lon AND y.day = b.day - 1
    LEFT JOIN sun_days m
        ON m.tz = b.tz AND m.lat = b.sun_lat AND m.lon = b.sun_lon AND m.day = b.day + 1
)
SELECT b.frame, b.camera, b.deployment, b.utc, b.local, b.day,
    (b.local - INTERVAL 12 HOUR)::DATE AS night, b.sunrise, b.sunset,
    (epoch_us(b.utc) - epoch_us(b.sunrise)) / 60e6 AS minutes_from_sunrise,
    (epoch_us(b.utc) - epoch_us(b.sunset)) / 60e6 AS minutes_from_sunset,
    b.light, b.light = 'day' AS in_daylight,
    b.burst, b.basis,
    nullif(concat_ws('; ',
        CASE WHEN b.shown_text IS NULL THEN 'the picture states no time'
            WHEN b.unconfirmed THEN 'its only time is the stamp of the file, which copying may have'
                ' changed; if it is right: camsign cards set ' || quoted(b.card) || ' --file-times'
            WHEN b.shown IS NULL THEN 'the clock showed ' || b.shown_text END,
        CASE WHEN b.basis LIKE 'correction %' THEN NULL
            WHEN year(b.shown) < $earliest
            THEN 'the clock showed the year ' || year(b.shown) || ': it was probably never set'
            WHEN b.shown > b.taken_in_utc + INTERVAL 2 DAY
            THEN 'the clock showed ' || b.shown::DATE || ', after the card was taken in' END,
        CASE WHEN b.basis IS DISTINCT FROM 'no deployment' THEN NULL
            WHEN b.utc < b.first_hung THEN 'older than the day ' || b.camera || ' was hung'
            WHEN b.utc > b.last_down THEN 'newer than the day ' || b.camera || ' was taken down'
            WHEN b.first_hung IS NOT NULL
            THEN 'from a day when ' || b.camera || ' hung nowhere'
            ELSE 'no spot for ' || b.camera END,
        CASE WHEN b.estimated THEN 'estimated' END,
        CASE WHEN b.twice THEN 'in the hour that fall-back repeats' END,
        CASE WHEN b.basis LIKE 'local%' AND b.local <> b.shown
            THEN 'in the hour that spring-forward skips' END,
        CASE WHEN b.disbelieved
            THEN 'the picture states an offset from UTC that the place does not have; if its clock is right:'
                ' camsign clock set ' || quoted(b.camera) || printf(' --utc-offset=%s%02d:%02d --deployment %s',
                    CASE WHEN b.shown < b.utc THEN '-' ELSE '+' END, abs(date_diff('minute', b.utc, b.shown)) // 60,
                    abs(date_diff('minute', b.utc, b.shown)) % 60, quoted(b.deployment)) END,
        CASE WHEN b.several THEN 'fits two hangs of the camera' END,
        CASE WHEN b.basis LIKE 'hung, since %' THEN 'the clock rule is not understood' END
    ), '') AS doubt,
    CASE WHEN b.shown_from LIKE 'DateTime_%' THEN 'camera' WHEN b.shown_from <> 'DateTime' THEN b.shown_from
        WHEN b.edited THEN 'editor' WHEN b.shown_from IS NOT NULL THEN 'camera' END AS time_from,
    CASE WHEN b.shown IS NULL THEN NULL
        WHEN time_from = 'container' THEN 'its time is the container''s, which may be the clock''s or UTC'
        WHEN time_from = 'name' THEN 'its time is taken from the file''s name'
        WHEN time_from = 'strip alone'
            THEN 'its time is read off the strip printed in the picture'
        WHEN time_from = 'comment' THEN 'its time is only in its comment'
        WHEN time_from = 'notes' THEN 'its time is only in the camera''s own notes'
        WHEN time_from IN ('XMP', 'IPTC') THEN 'its time is only in ' || time_from
        WHEN time_from = 'editor' THEN 'its time is when ' || b.software || ' saved it' END AS weak,
    b.several
FROM lit b
ORDER BY b.camera; -- a camera's rows lie together, so that others need not be read

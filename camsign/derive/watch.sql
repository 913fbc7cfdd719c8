DELETE FROM watch
WHERE deployment IN (SELECT deployment FROM current_deployments JOIN new_cameras USING (camera))
    OR deployment NOT IN (SELECT deployment FROM current_deployments);

-- Days with frames of the new cameras' deployments.
CREATE OR REPLACE TEMP TABLE lively AS
SELECT t.deployment, t.day, min(t.utc) AS first, max(t.utc) AS last
FROM frame_times t
WHERE t.deployment IS NOT NULL AND t.camera IN (SELECT camera FROM new_cameras)
GROUP BY t.deployment, t.day;

-- From the first to the last of frames in a row whose time is in doubt: no answer counts them.
CREATE OR REPLACE TEMP TABLE doubted AS
WITH sure AS (
    SELECT deployment, utc, doubt, count(*) FILTER (doubt IS NULL) OVER (
        PARTITION BY deployment ORDER BY utc ROWS UNBOUNDED PRECEDING
    ) AS before
    FROM frame_times
    WHERE deployment IN (
        SELECT deployment FROM frame_times
        WHERE doubt IS NOT NULL AND deployment IS NOT NULL AND camera IN (SELECT camera FROM new_cameras)
    )
)
SELECT deployment, min(utc) AS start, max(utc) AS stop FROM sure WHERE doubt IS NOT NULL
GROUP BY deployment, before;

-- The sun over the days of each of them. Where it does not come through the horizon, the night is
-- taken from 18 to 6 o'clock.
CREATE OR REPLACE TEMP TABLE suns AS
WITH filled AS (
    SELECT d.deployment, s.day,
        coalesce(s.sunrise, s.day + INTERVAL 6 HOUR - to_seconds(z.offset_s)) AS sunrise,
        coalesce(s.sunset, s.day + INTERVAL 18 HOUR - to_seconds(z.offset_s)) AS sunset,
        d.hung, d.stop
    FROM (
        SELECT d.deployment, d.tz, d.sun_lat, d.sun_lon, d.hung,
            coalesce(d.taken_down, max(l.last), d.hung) AS stop
        FROM current_deployments d JOIN new_cameras USING (camera) LEFT JOIN lively l USING (deployment)
        GROUP BY d.deployment, d.tz, d.sun_lat, d.sun_lon, d.hung, d.taken_down
    ) d
    JOIN sun_days s ON s.tz = d.tz AND s.lat = d.sun_lat AND s.lon = d.sun_lon
    ASOF JOIN zone_offsets z ON z.tz = d.tz AND s.day::TIMESTAMP >= z.from_utc
)
SELECT deployment, day, sunrise, sunset,
    lead(sunrise) OVER (PARTITION BY deployment ORDER BY day) AS next_sunrise
FROM filled
WHERE day BETWEEN hung::DATE - 2 AND stop::DATE + 2;

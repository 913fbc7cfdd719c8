-- The days for which the sun is needed: of every deployment from hanging to its end, and of frames
-- without a deployment at the logbook's home.
CREATE OR REPLACE TEMP TABLE needed_days AS
WITH seen AS (
    SELECT deployment, tz, sun_lat, sun_lon, utc FROM timed
    UNION ALL
    SELECT t.deployment, $tz, $lat, $lon, t.utc FROM frame_times t
    WHERE t.camera NOT IN (SELECT camera FROM new_cameras)
),
ends AS (
    SELECT d.tz, d.sun_lat, d.sun_lon, d.hung, coalesce(d.taken_down, max(s.utc), d.hung) AS stop
    FROM current_deployments d LEFT JOIN seen s USING (deployment)
    GROUP BY d.deployment, d.tz, d.sun_lat, d.sun_lon, d.hung, d.taken_down
),
spread AS (
    SELECT tz, sun_lat AS lat, sun_lon AS lon,
        unnest(generate_series(hung::DATE - INTERVAL 2 DAY, stop::DATE + INTERVAL 2 DAY,
            INTERVAL 1 DAY))::DATE AS day
    FROM ends
),
home AS (
    SELECT DISTINCT $tz AS tz, $lat::DOUBLE AS lat, $lon::DOUBLE AS lon,
        unnest(generate_series(utc::DATE - INTERVAL 2 DAY, utc::DATE + INTERVAL 2 DAY,
            INTERVAL 1 DAY))::DATE AS day
    FROM seen WHERE deployment IS NULL AND utc IS NOT NULL AND $lat IS NOT NULL
)
SELECT DISTINCT * FROM spread UNION SELECT * FROM home;

DELETE FROM sun_days WHERE NOT EXISTS (
    SELECT 1 FROM needed_days n
    WHERE n.tz = sun_days.tz AND n.lat = sun_days.lat AND n.lon = sun_days.lon
        AND n.day = sun_days.day
);

DELETE FROM needed_days WHERE EXISTS (
    SELECT 1 FROM sun_days s
    WHERE s.tz = needed_days.tz AND s.lat = needed_days.lat AND s.lon = needed_days.lon
        AND s.day = needed_days.day
);

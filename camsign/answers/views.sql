-- The views that a question of one's own may use. They hide the tables of the same names; all times
-- are UTC but `local`, lengths are meters, bearings degrees true. {reach} [m] and {gap} [s] are the
-- logbook's settings, {main} the database.

-- Who is who and which areas stand, taken down before the views hide the tables these rest on.
CREATE OR REPLACE TEMP TABLE asked_bucks AS SELECT * FROM {main}.bucks_now;
CREATE OR REPLACE TEMP TABLE asked_areas AS SELECT * FROM {main}.areas_now;

-- A tagged subject in a frame that has a place and a time. doubt: why the time may be wrong.
CREATE OR REPLACE TEMP VIEW detections AS
SELECT d.frame, coalesce(b.name, d.buck_id) AS buck, coalesce(b.buck_id, d.buck_id) AS buck_id,
    d.what, d.species, d.sex, d.stage, d."count", d.sure, d.camera, d.deployment, d.utc, d.local,
    d.day, d.night, d.light, d.in_daylight, d.minutes_from_sunrise, d.minutes_from_sunset, d.travel_deg,
    d.doubt
FROM {main}.detections d LEFT JOIN asked_bucks b ON b.buck = d.buck_id;

-- Areas that stand. shape: as in the table.
CREATE OR REPLACE TEMP VIEW areas AS
SELECT name AS area, area_id, kind, shape FROM asked_areas;

-- Visits of identified bucks at a sure time, merged over the cameras in reach of each area.
CREATE OR REPLACE TEMP VIEW visits AS
WITH seen AS (
    SELECT a.area, a.area_id, d.buck, d.buck_id, d.utc, d.local, d.day, d.night, d.camera,
        d.light, d.in_daylight, d.minutes_from_sunrise, d.minutes_from_sunset, p.distance_m,
        coalesce(epoch(d.utc - lag(d.utc) OVER w) > {gap}, true) AS starts
    FROM detections d JOIN {main}.area_pairs p USING (deployment)
    JOIN areas a ON a.area_id = p.area
    WHERE p.distance_m <= {reach} AND d.buck_id IS NOT NULL AND d.doubt IS NULL
        AND d.sure IS DISTINCT FROM 'unsure'
    WINDOW w AS (PARTITION BY a.area_id, d.buck_id ORDER BY d.utc)
),
numbered AS (
    SELECT *, sum(starts::INTEGER) OVER (
        PARTITION BY area_id, buck_id ORDER BY utc RANGE UNBOUNDED PRECEDING) AS visit
    FROM seen
)
SELECT area, area_id, buck, buck_id, min(utc) AS utc, max(utc) AS until_utc,
    arg_min(local, utc) AS local, arg_min(day, utc) AS day, arg_min(night, utc) AS night,
    arg_min(camera, utc) AS camera,
    CASE WHEN bool_or(light = 'day') THEN 'day' WHEN bool_or(light = 'gray') THEN 'gray'
        ELSE any_value(light) END AS light, bool_or(in_daylight) AS in_daylight,
    arg_min(minutes_from_sunrise, utc) AS minutes_from_sunrise,
    arg_min(minutes_from_sunset, utc) AS minutes_from_sunset,
    arg_min(distance_m, utc) AS distance_m, count(*) AS frames
FROM numbered GROUP BY area, area_id, buck, buck_id, visit;

-- Nights (by the day on whose noon they begin) of every deployment, and whether it watched.
CREATE OR REPLACE TEMP VIEW watch AS
SELECT d.camera, w.deployment, w.night, w.watched, w.day_watched, w.why
FROM {main}.watch w JOIN {main}.deployments d USING (deployment);

-- Sign, one row a sighting, with when it was made.
CREATE OR REPLACE TEMP VIEW sign AS
SELECT sign, sighting, kind, lat, lon, seen_on, made_from, made_to, travel_deg, season
FROM {main}.made_windows;

-- Detections of animals joined to sign within reach, inside its made window.
CREATE OR REPLACE TEMP VIEW near AS
SELECT d.frame, d.buck, d.buck_id, d.utc, d.day, d.camera, s.sign, s.kind, p.distance_m,
    p.bearing_deg
FROM detections d JOIN {main}.sign_pairs p USING (deployment) JOIN sign s USING (sign)
WHERE p.distance_m <= {reach} AND d.doubt IS NULL AND d.what = 'animal'
    AND d.day BETWEEN s.made_from AND s.made_to;

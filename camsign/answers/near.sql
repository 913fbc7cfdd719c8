-- Names as enumerations: a million rows carry numbers, and tables made of them are small.
CREATE OR REPLACE TEMP TYPE near_sign AS ENUM (SELECT DISTINCT sign FROM made_windows);
CREATE OR REPLACE TEMP TYPE near_kind AS ENUM (SELECT DISTINCT kind FROM made_windows);
CREATE OR REPLACE TEMP TABLE near_who AS
SELECT DISTINCT tagged, coalesce(b.buck_id, tagged) AS buck_id, coalesce(b.name, tagged) AS name
FROM (SELECT DISTINCT buck_id AS tagged FROM detections WHERE buck_id IS NOT NULL)
LEFT JOIN bucks_now b ON b.buck = tagged;
CREATE OR REPLACE TEMP TYPE near_buck AS ENUM (SELECT DISTINCT buck_id FROM near_who);
CREATE OR REPLACE TEMP TYPE near_name AS ENUM (SELECT DISTINCT name FROM near_who);

-- Detections joined to sign: by distance (pairs of deployment and sign, made once) and by time (the
-- made window). days: 0 inside the window, else days from the detection to its nearer end; a sign
-- that was looked at more than once gives the sighting that comes nearest.
-- $within [m], $days, $first, $last (local days), $bucks, $kinds, $areas: lists or NULL for all; of
-- areas, both the camera and the sign must lie within $reach [m].
WITH windows AS (
    SELECT w.sign, w.sign::near_sign AS code, w.kind::near_kind AS kind, w.made_from, w.made_to,
        count(*) OVER (PARTITION BY w.sign) > 1 AS several
    FROM made_windows w
    WHERE ($kinds::VARCHAR[] IS NULL OR w.kind IN (SELECT unnest($kinds::VARCHAR[])))
        AND w.made_from <= $last::DATE + $days AND w.made_to >= $first::DATE - $days
        AND ($areas::VARCHAR[] IS NULL OR w.sign IN (
            SELECT a.sign FROM area_signs a
            WHERE a.distance_m <= $reach AND a.area IN (SELECT unnest($areas::VARCHAR[]))))
),
pairs AS (
    SELECT p.deployment, p.distance_m, p.bearing_deg, w.*
    FROM sign_pairs p JOIN windows w USING (sign)
    WHERE p.distance_m <= $within
        AND ($areas::VARCHAR[] IS NULL OR p.deployment IN (
            SELECT a.deployment FROM area_pairs a
            WHERE a.distance_m <= $reach AND a.area IN (SELECT unnest($areas::VARCHAR[]))))
),
who AS (
    SELECT tagged, buck_id::near_buck AS buck_id, name::near_name AS name FROM near_who
    WHERE $bucks::VARCHAR[] IS NULL OR buck_id IN (SELECT unnest($bucks::VARCHAR[]))
),
seen AS (
    SELECT d.frame, w.name, w.buck_id, d.utc, d.day, d.deployment
    FROM detections d LEFT JOIN who w ON w.tagged = d.buck_id
    WHERE d.deployment IN (SELECT deployment FROM pairs)
        AND d.day BETWEEN $first AND $last AND d.doubt IS NULL AND d.what = 'animal'
        AND ($bucks::VARCHAR[] IS NULL OR w.tagged IS NOT NULL)
),
joined AS (
    SELECT s.frame, s.name, s.buck_id, s.utc, p.code, p.kind, p.distance_m, p.bearing_deg, p.several,
        greatest(p.made_from - s.day, s.day - p.made_to, 0)::INTEGER AS days
    FROM seen s JOIN pairs p USING (deployment)
    WHERE s.day BETWEEN p.made_from - $days AND p.made_to + $days
)
SELECT frame, name AS buck, buck_id, utc, code AS sign, kind, distance_m, bearing_deg, days
FROM joined WHERE NOT several
UNION ALL
SELECT frame, name, buck_id, utc, code, kind, distance_m, bearing_deg, min(days)
FROM joined WHERE several GROUP BY ALL
ORDER BY utc, frame, sign

-- Signs whose made window lies in the days asked for, or near them.
CREATE OR REPLACE TEMP TABLE near_windows AS
SELECT w.sign, w.kind, w.made_from, w.made_to,
    count(*) OVER (PARTITION BY w.sign) > 1 AS several
FROM made_windows w
WHERE ($kinds::VARCHAR[] IS NULL OR w.kind IN (SELECT unnest($kinds::VARCHAR[])))
    AND w.made_from <= $last::DATE + $days AND w.made_to >= $first::DATE - $days
    AND ($areas::VARCHAR[] IS NULL OR w.sign IN (
        SELECT a.sign FROM area_signs a
        WHERE a.distance_m <= $reach AND a.area IN (SELECT unnest($areas::VARCHAR[]))));

-- Names as enumerations: a million rows carry numbers, and tables made of them are small.
CREATE OR REPLACE TEMP TYPE near_sign AS ENUM (SELECT DISTINCT sign FROM near_windows ORDER BY sign);
CREATE OR REPLACE TEMP TYPE near_kind AS ENUM (SELECT DISTINCT kind FROM near_windows ORDER BY kind);
CREATE OR REPLACE TEMP TABLE near_who AS
SELECT unnest($tagged::VARCHAR[]) AS tagged, unnest($ids::VARCHAR[]) AS buck_id,
    unnest($names::VARCHAR[]) AS name;
CREATE OR REPLACE TEMP TYPE near_buck AS ENUM (SELECT DISTINCT buck_id FROM near_who ORDER BY buck_id);
CREATE OR REPLACE TEMP TYPE near_name AS ENUM (SELECT DISTINCT name FROM near_who ORDER BY name);
CREATE OR REPLACE TEMP TYPE near_species AS ENUM (
    SELECT DISTINCT species FROM detections WHERE species IS NOT NULL ORDER BY species);
CREATE OR REPLACE TEMP TYPE near_sex AS ENUM (
    SELECT DISTINCT sex FROM detections WHERE sex IS NOT NULL ORDER BY sex);

-- Detections joined to sign: by distance (pairs of deployment and sign, made once) and by time (the
-- made window). days: 0 inside the window, else days from the detection to its nearer end; a sign
-- that was looked at more than once gives the sighting that comes nearest.
-- $within [m], $days, $first, $last (local days), $every (also of bucks that are not among those in
-- near_who), $areas: NULL for all, else both camera and sign must lie within $reach [m] of one.
WITH windows AS (
    SELECT *, sign::near_sign AS code, kind::near_kind AS enumerated FROM near_windows
),
pairs AS (
    SELECT p.deployment, p.distance_m, p.bearing_deg, w.code, w.enumerated AS kind, w.made_from,
        w.made_to, w.several
    FROM sign_pairs p JOIN windows w USING (sign)
    WHERE p.distance_m <= $within
        AND ($areas::VARCHAR[] IS NULL OR p.deployment IN (
            SELECT a.deployment FROM area_pairs a
            WHERE a.distance_m <= $reach AND a.area IN (SELECT unnest($areas::VARCHAR[]))))
),
who AS (
    SELECT tagged, buck_id::near_buck AS buck_id, name::near_name AS name FROM near_who
),
seen AS (
    SELECT d.frame, w.name, w.buck_id, d.utc, d.day, d.deployment,
        d.species::near_species AS species, d.sex::near_sex AS sex
    FROM detections d LEFT JOIN who w ON w.tagged = d.buck_id
    WHERE d.deployment IN (SELECT deployment FROM pairs)
        AND d.day BETWEEN $first AND $last AND d.doubt IS NULL AND d.what = 'animal'
        AND ($every OR w.tagged IS NOT NULL)
),
joined AS (
    SELECT s.frame, s.name, s.buck_id, s.utc, p.code, p.kind, p.distance_m, p.bearing_deg, p.several,
        s.species, s.sex,
        greatest(p.made_from - s.day, s.day - p.made_to, 0)::INTEGER AS days
    FROM seen s JOIN pairs p USING (deployment)
    WHERE s.day BETWEEN p.made_from - $days AND p.made_to + $days
)
SELECT frame, name AS buck, buck_id, utc, code AS sign, kind, distance_m, bearing_deg, days,
    species, sex
FROM joined WHERE NOT several
UNION ALL
SELECT frame, name, buck_id, utc, code, kind, distance_m, bearing_deg, min(days), species, sex
FROM joined WHERE several GROUP BY ALL

-- Detections joined to sign: by distance (pairs of deployment and sign, made once) and by time (the
-- made window). days: 0 inside the window, else days from the detection to its nearer end; a sign
-- that was looked at more than once gives the sighting that comes nearest.
-- $within [m], $days, $first, $last (local days), $bucks, $kinds, $areas: lists or NULL for all; of
-- areas, both the camera and the sign must lie within $reach [m].
WITH windows AS (
    SELECT w.sign, w.kind, w.made_from, w.made_to,
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
    SELECT buck, buck_id, name FROM bucks_now
),
seen AS (
    SELECT d.frame, d.buck_id AS tagged, d.utc, d.day, d.deployment
    FROM detections d
    WHERE d.deployment IN (SELECT deployment FROM pairs)
        AND d.day BETWEEN $first AND $last AND d.doubt IS NULL AND d.what = 'animal'
        AND ($bucks::VARCHAR[] IS NULL OR d.buck_id IN (
            SELECT buck FROM who WHERE buck_id IN (SELECT unnest($bucks::VARCHAR[]))))
),
joined AS (
    SELECT s.frame, s.tagged, s.utc, p.sign, p.kind, p.distance_m, p.bearing_deg, p.several,
        greatest(p.made_from - s.day, s.day - p.made_to, 0)::INTEGER AS days
    FROM seen s JOIN pairs p USING (deployment)
    WHERE s.day BETWEEN p.made_from - $days AND p.made_to + $days
),
nearest AS (
    SELECT * EXCLUDE (several) FROM joined WHERE NOT several
    UNION ALL
    SELECT frame, tagged, utc, sign, kind, distance_m, bearing_deg, min(days)
    FROM joined WHERE several GROUP BY ALL
)
SELECT n.frame, coalesce(w.name, n.tagged) AS buck, coalesce(w.buck_id, n.tagged) AS buck_id, n.utc,
    n.sign, n.kind, n.distance_m, n.bearing_deg, n.days
FROM nearest n LEFT JOIN who w ON w.buck = n.tagged

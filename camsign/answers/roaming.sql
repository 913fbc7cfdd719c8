-- Bucks pictured while a sign may have been made, by a camera within a buck's range of it.
-- $sign, $first, $last: as in makers.sql; $range_m: how far a buck ranges [m].
WITH spot AS (
    SELECT DISTINCT lat, lon FROM made_windows WHERE sign = $sign AND lat IS NOT NULL
),
near AS (
    SELECT DISTINCT p.deployment FROM deployments p, spot s
    WHERE p.gone IS NOT TRUE AND p.lat IS NOT NULL AND 2 * 6371008.8 * asin(sqrt(
        sin(radians(p.lat - s.lat) / 2) ** 2
        + cos(radians(p.lat)) * cos(radians(s.lat)) * sin(radians(p.lon - s.lon) / 2) ** 2
    )) <= $range_m
)
SELECT DISTINCT b.buck_id
FROM detections d JOIN near USING (deployment) JOIN bucks_now b ON b.buck = d.buck_id
WHERE d.day BETWEEN $first AND $last AND d.doubt IS NULL AND d.sure IS DISTINCT FROM 'unsure'

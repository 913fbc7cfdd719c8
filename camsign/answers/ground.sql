-- What lies where: cameras with the span they hung, sign with its newest sighting. $first, $last: only
-- what hung or was made on these local days, NULL for all.
SELECT 'camera' AS what, deployment AS id, camera AS name, NULL AS kind, lat, lon, NULL AS travel_deg,
    NULL AS seen_on, facing_deg,
    CASE WHEN lead(hung) OVER (PARTITION BY camera ORDER BY hung) IS NOT NULL THEN taken_down END
        AS moved, false AS fresh
FROM deployments WHERE gone IS NOT TRUE
    AND ($last::DATE IS NULL OR hung::DATE <= $last)
    AND ($first::DATE IS NULL OR taken_down IS NULL OR taken_down::DATE >= $first)
UNION ALL
SELECT 'sign', sign, sign, kind, lat, lon, travel_deg, seen_on, NULL, NULL,
    sighting IN (SELECT sighting FROM fresh_looks)
FROM made_windows
WHERE $first::DATE IS NULL OR (made_from <= $last AND made_to >= $first)
QUALIFY row_number() OVER (PARTITION BY sign ORDER BY seen_on DESC, sighting DESC) = 1
ORDER BY what, lat, lon, id

-- New sign in reach of areas: $fresh, $bright: its ids. $areas: ids or NULL for all; $reach [m].
SELECT area, count(*) FILTER (sign IN (SELECT unnest($fresh::VARCHAR[]))) AS fresh,
    count(*) FILTER (sign IN (SELECT unnest($bright::VARCHAR[]))) AS bright, list(sign) AS signs
FROM area_signs
WHERE distance_m <= $reach AND sign IN (SELECT unnest($fresh::VARCHAR[] || $bright::VARCHAR[]))
    AND ($areas::VARCHAR[] IS NULL OR area IN (SELECT unnest($areas::VARCHAR[])))
GROUP BY area

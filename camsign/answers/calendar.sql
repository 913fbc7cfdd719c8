-- When sign in reach of an area was made, as far as that lies within the days asked for.
SELECT w.kind, greatest(w.made_from, $first) AS first, least(w.made_to, $last) AS last
FROM made_windows w JOIN area_signs a USING (sign)
WHERE a.area = $area AND a.distance_m <= $reach AND w.made_from <= $last AND w.made_to >= $first
ORDER BY 2, 3, 1

-- The minutes from sunrise or sunset (column {column}) of each buck's passes within two hours of it,
-- one a buck and day, at cameras in reach of a bedding area. Parameters: first day, last day, reach [m],
-- the bucks' ids as tagged.
SELECT coalesce(b.buck_id, d.buck_id) AS buck, min({column}) AS minutes
FROM detections d
JOIN area_pairs p USING (deployment)
JOIN areas_now a ON a.area_id = p.area AND a.kind = 'bedding'
LEFT JOIN bucks_now b ON b.buck = d.buck_id
WHERE d.buck_id IN (SELECT unnest($4::VARCHAR[])) AND d.doubt IS NULL AND d.sure IS DISTINCT FROM 'unsure'
    AND d.day BETWEEN $1 AND $2 AND p.distance_m <= $3 AND abs({column}) <= 120
GROUP BY 1, d.day ORDER BY 1, d.day

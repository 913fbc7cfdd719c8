-- When each buck was seen nearest in time to a moment, by camera and deployment.
SELECT n.buck_id, n.name AS buck, s.camera, s.deployment, d.lat, d.lon,
    max(s.utc) FILTER (s.utc <= $at::TIMESTAMP) AS before,
    min(s.utc) FILTER (s.utc > $at::TIMESTAMP) AS after
FROM tags t
JOIN bucks_now n ON n.buck = t.buck_id
JOIN bucks b ON b.buck = n.buck_id AND b.gone IS NOT TRUE
JOIN page.strips s ON s.frame = t.frame AND s.strip <> $strip
LEFT JOIN deployments d ON d.deployment = s.deployment
WHERE t.buck_id IS NOT NULL AND s.utc IS NOT NULL
GROUP BY ALL

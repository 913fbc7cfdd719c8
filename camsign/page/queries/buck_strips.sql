-- The strips with frames of a buck, the latest first, for parting him in two.
SELECT s.strip, min(s.camera) AS camera, min(s.utc) AS utc, min(s.local) AS local,
    list(s.frame ORDER BY s.place) AS frames
FROM page.strips s
WHERE s.frame IN (
    SELECT t.frame FROM tags t JOIN bucks_now n ON n.buck = t.buck_id WHERE n.buck_id = $buck)
GROUP BY s.strip ORDER BY utc DESC NULLS LAST, s.strip LIMIT $most

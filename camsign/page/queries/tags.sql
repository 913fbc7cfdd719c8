-- What stands on some frames.
SELECT t.frame, t.subject, t.what, n.buck_id, n.name AS buck, t.species, t.sex, t.stage, t."count",
    t.travel_deg, t.sure
FROM tags t LEFT JOIN bucks_now n ON n.buck = t.buck_id
WHERE t.frame IN (SELECT unnest($frames::VARCHAR[]))
ORDER BY t.frame, t.subject

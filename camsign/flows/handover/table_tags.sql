-- Tags as `tag import` takes them in.
SELECT t.frame, t.what, n.name AS buck, t.buck_id, t."count", t.travel_deg, t.species, t.sex,
    t.stage, t.sure
FROM tags t LEFT JOIN bucks_now n ON n.buck = t.buck_id ORDER BY t.frame, t.subject

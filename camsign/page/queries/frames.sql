-- The frames of some strips, in order, each with what its pixels and people say.
SELECT s.strip, s.frame, s.burst, s.camera, s.deployment, s.card, s.utc, s.local, s.day, s.in_daylight,
    s.doubt, l.light, f.kind,
    CASE WHEN s.local IS NOT NULL AND abs(date_diff('second', s.local, try_cast(f.shown AS TIMESTAMP))) >= 60
        THEN f.shown END AS shown,
    CASE WHEN c.box_x IS NOT NULL THEN [c.box_x, c.box_y, c.box_width, c.box_height] END AS box,
    c.way,
    t.basis,
    f.width > 1.5 * f.height AS wide, d.facing_deg, g.tags
FROM page.strips s
JOIN frames f USING (frame)
LEFT JOIN frame_times t USING (frame)
LEFT JOIN looks l USING (frame)
LEFT JOIN changes c USING (frame)
LEFT JOIN deployments d ON d.deployment = s.deployment
LEFT JOIN (
    SELECT frame, list({subject: t.subject, what: t.what, buck_id: n.buck_id, buck: n.name,
        species: t.species, sex: t.sex, stage: t.stage, "count": t."count",
        travel_deg: t.travel_deg, sure: t.sure} ORDER BY t.subject) AS tags
    FROM tags t LEFT JOIN bucks_now n ON n.buck = t.buck_id
    WHERE t.frame IN (
        SELECT frame FROM page.strips WHERE strip IN (SELECT unnest($strips::VARCHAR[])))
    GROUP BY frame
) g USING (frame)
WHERE s.strip IN (SELECT unnest($strips::VARCHAR[]))
ORDER BY s.strip, s.place

-- The frames of some strips, in order, each with what its pixels say.
SELECT s.strip, s.frame, s.burst, s.camera, s.deployment, s.card, s.utc, s.local,
    s.doubt, l.light, f.kind,
    CASE WHEN s.local IS NOT NULL AND abs(date_diff('second', s.local, try_cast(f.shown AS TIMESTAMP))) >= 60
        THEN f.shown END AS shown,
    CASE WHEN c.box_x IS NOT NULL THEN [c.box_x, c.box_y, c.box_width, c.box_height] END AS box,
    c.way,
    t.basis,
    f.width > 1.5 * f.height AS wide, d.facing_deg
FROM page.strips s
JOIN frames f USING (frame)
LEFT JOIN frame_times t USING (frame)
LEFT JOIN looks l USING (frame)
LEFT JOIN changes c USING (frame)
LEFT JOIN deployments d ON d.deployment = s.deployment
WHERE s.strip IN (SELECT unnest($strips::VARCHAR[]))
ORDER BY s.strip, s.place

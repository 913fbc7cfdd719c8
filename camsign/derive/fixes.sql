-- The corrections that stand, in the order in which they were said.
SELECT f.clock_fix, f.camera, coalesce(w.stands_for, f.deployment), f.kind, f.value, f.shown_from, f.shown_until, f.reason,
    f.estimated, f.from_frame, f.until_frame
FROM clock_fixes f
JOIN (
    SELECT e.id, max(e.stamp) AS said
    FROM field_edits e JOIN acts a ON a.act = e.act AND NOT a.undone
    WHERE e.thing = 'clock_fix' AND e.field = 'value'
    GROUP BY e.id
) s ON s.id = f.clock_fix
LEFT JOIN deployment_twins w ON w.deployment = f.deployment
WHERE f.gone IS NOT TRUE
ORDER BY s.said, f.clock_fix

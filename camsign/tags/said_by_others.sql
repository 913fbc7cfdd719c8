-- The tags that stand on these frames and that another writer said too, by subject; "nothing" aside.
WITH asked AS (
    SELECT DISTINCT coalesce(w.stands_for, f.frame) AS frame
    FROM (SELECT unnest($frames::VARCHAR[]) AS frame) f LEFT JOIN frame_twins w ON w.frame = f.frame
),
spoken AS (
    SELECT frame, frame AS said_of FROM asked
    UNION ALL
    SELECT stands_for, frame FROM frame_twins WHERE stands_for IN (SELECT frame FROM asked)
)
SELECT t.subject, list(DISTINCT t.frame ORDER BY t.frame)
FROM tags t JOIN spoken s ON s.frame = t.frame
JOIN tag_edits e ON e.frame = s.said_of AND e.subject = t.subject AND NOT e.gone
WHERE t.what <> 'nothing' AND split_part(e.stamp, '/', 2) <> $writer
    AND e.act NOT IN (SELECT act FROM acts WHERE undone)
GROUP BY t.subject ORDER BY t.subject

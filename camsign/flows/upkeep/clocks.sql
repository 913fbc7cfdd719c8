-- Writers with a wrong clock. Ahead: a stamp of their own clock (its counter is 0; others only follow what
-- they have seen) behind $limit. Behind: they tagged pictures more than a day before these were taken.
SELECT writer, 'ahead' AS way, max(said) AS said, NULL::TIMESTAMP AS taken
FROM acts WHERE said > $limit AND ends_with(said, '-00000') GROUP BY writer
UNION ALL
SELECT a.writer, 'behind', min(a.said), min(t.utc)
FROM tag_edits e JOIN acts a ON a.act = e.act JOIN frame_times t ON t.frame = e.frame
WHERE t.doubt IS NULL AND left(a.said, 19)::TIMESTAMP < t.utc - INTERVAL 1 DAY
GROUP BY a.writer
ORDER BY 1, 2

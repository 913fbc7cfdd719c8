-- The tags that stand on the touched frames: the last word per frame and subject of those behind the last
-- clearing of the frame, and behind the last one by their own writer; "nothing" falls where something seen
-- stands. What was said of a small picture counts for the full one that it goes with.
INSERT INTO tags
WITH speaks AS (
    SELECT frame, frame AS counts_for FROM fresh_frames
    WHERE frame NOT IN (SELECT frame FROM frame_twins)
    UNION ALL
    SELECT frame, stands_for FROM frame_twins WHERE stands_for IN (SELECT frame FROM fresh_frames)
),
said AS (
    SELECT t.* REPLACE (s.counts_for AS frame), split_part(t.stamp, '/', 2) AS writer
    FROM tag_edits t JOIN speaks s ON s.frame = t.frame
    WHERE t.act NOT IN (SELECT act FROM acts WHERE undone)
),
cleared AS (SELECT frame, max(stamp) AS stamp FROM said WHERE subject = '*' GROUP BY frame),
own AS (SELECT frame, writer, max(stamp) AS stamp FROM said WHERE subject = '*own' GROUP BY ALL),
last_word AS (
    SELECT s.* FROM said s
    LEFT JOIN cleared c ON c.frame = s.frame LEFT JOIN own o ON o.frame = s.frame AND o.writer = s.writer
    WHERE s.subject NOT IN ('*', '*own') AND (c.stamp IS NULL OR s.stamp > c.stamp)
        -- A tag once taken off stays so: what another said before it does not come back.
        AND (s.gone OR o.stamp IS NULL OR s.stamp > o.stamp)
    QUALIFY row_number() OVER (PARTITION BY s.frame, s.subject ORDER BY s.stamp DESC) = 1
),
standing AS (SELECT * FROM last_word WHERE NOT gone)
SELECT s.frame, s.subject, s.what, s.buck_id, s.species, s.sex, s.stage, s."count",
    s.travel_deg, s.sure
FROM standing s
WHERE s.what <> 'nothing' OR s.frame NOT IN (SELECT frame FROM standing WHERE what <> 'nothing')

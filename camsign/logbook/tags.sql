-- The tags that stand on the touched frames: the last word per frame and subject, behind the last
-- clearing of the frame; "nothing" falls when something was seen later. What was said of a small picture
-- counts for the full one that it goes with.
INSERT INTO tags
WITH speaks AS (
    SELECT frame, frame AS counts_for FROM fresh_frames
    WHERE frame NOT IN (SELECT frame FROM frame_twins)
    UNION ALL
    SELECT frame, stands_for FROM frame_twins WHERE stands_for IN (SELECT frame FROM fresh_frames)
),
said AS (
    SELECT t.* REPLACE (s.counts_for AS frame)
    FROM tag_edits t JOIN speaks s ON s.frame = t.frame
    WHERE t.act NOT IN (SELECT act FROM acts WHERE undone)
),
cleared AS (SELECT frame, max(stamp) AS stamp FROM said WHERE subject = '*' GROUP BY frame),
last_word AS (
    SELECT * FROM said WHERE subject <> '*'
    QUALIFY row_number() OVER (PARTITION BY frame, subject ORDER BY stamp DESC) = 1
),
standing AS (
    SELECT l.* FROM last_word l LEFT JOIN cleared c ON c.frame = l.frame
    WHERE NOT l.gone AND (c.stamp IS NULL OR l.stamp > c.stamp)
),
seen AS (
    SELECT frame, max(stamp) AS stamp FROM standing WHERE what <> 'nothing' GROUP BY frame
)
SELECT s.frame, s.subject, s.what, s.buck_id, s.species, s.sex, s.stage, s."count",
    s.travel_deg, s.sure
FROM standing s LEFT JOIN seen ON seen.frame = s.frame
WHERE s.what <> 'nothing' OR seen.stamp IS NULL OR seen.stamp < s.stamp

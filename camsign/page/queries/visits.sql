-- One row a strip, with what the filter of the sorting page asks for. empty: every frame of it is set
-- aside as likely empty.
CREATE OR REPLACE TABLE page.visits AS
SELECT s.strip, min(s.utc) AS start, min(s.camera) AS camera, min(s.deployment) AS deployment, count(*) AS frames,
    min(s.day) AS first, max(s.day) AS last, list(DISTINCT l.light) AS lights,
    bool_or(s.doubt IS NOT NULL) AS doubtful, coalesce(bool_and(coalesce(e.aside, FALSE)), FALSE) AS empty
FROM page.strips s LEFT JOIN looks l USING (frame) LEFT JOIN empty_scores e USING (frame)
GROUP BY s.strip
ORDER BY start

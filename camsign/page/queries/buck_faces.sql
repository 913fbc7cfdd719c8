-- One picture of each buck's head: a chosen one; else of the last year he was seen, in color before infrared,
-- the one in which he is largest, but whole.
SELECT buck_id, frame FROM (
    SELECT n.buck_id, r.frame, 0 AS rank, t.utc
    FROM reference_pictures r JOIN bucks_now n ON n.buck = r.buck
    LEFT JOIN frame_times t ON t.frame = r.frame WHERE r.gone IS NOT TRUE
    UNION ALL
    SELECT n.buck_id, g.frame, CASE WHEN l.light = 'colour' THEN 1 ELSE 2 END, t.utc
    FROM tags g JOIN bucks_now n ON n.buck = g.buck_id
    LEFT JOIN looks l ON l.frame = g.frame LEFT JOIN frame_times t ON t.frame = g.frame
) p LEFT JOIN changes c USING (frame)
QUALIFY row_number() OVER (PARTITION BY buck_id ORDER BY least(rank, 1), year(p.utc) DESC NULLS LAST, rank,
    (least(c.box_x, c.box_y, 1 - c.box_x - c.box_width, 1 - c.box_y - c.box_height) > 0.02) IS NOT TRUE,
    c.way IS NULL, c.box_width * c.box_height > 0.25, c.box_width * c.box_height DESC NULLS LAST,
    p.utc DESC NULLS LAST, frame) = 1

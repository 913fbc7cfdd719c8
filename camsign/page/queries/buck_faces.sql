-- One picture of each buck: a chosen one, else the latest color picture, else the latest.
SELECT buck_id, frame FROM (
    SELECT n.buck_id, r.frame, 0 AS rank, t.utc
    FROM reference_pictures r JOIN bucks_now n ON n.buck = r.buck
    LEFT JOIN frame_times t ON t.frame = r.frame WHERE r.gone IS NOT TRUE
    UNION ALL
    SELECT n.buck_id, g.frame, CASE WHEN l.light = 'colour' THEN 1 ELSE 2 END, t.utc
    FROM tags g JOIN bucks_now n ON n.buck = g.buck_id
    LEFT JOIN looks l ON l.frame = g.frame LEFT JOIN frame_times t ON t.frame = g.frame
)
QUALIFY row_number() OVER (PARTITION BY buck_id ORDER BY rank, utc DESC NULLS LAST, frame) = 1

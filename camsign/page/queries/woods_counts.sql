-- What is in the logbook: cameras as they were set up, pieces of sign, cards, pictures; and the pictures
-- without a tag, those in visits that wait folded as likely empty apart.
SELECT (SELECT count(*) FROM deployments WHERE gone IS NOT TRUE) AS hung,
    (SELECT count(*) FROM signs WHERE gone IS NOT TRUE) AS sign,
    (SELECT count(*) FROM cards) AS cards,
    (SELECT count(*) FROM frames WHERE frame NOT IN (SELECT frame FROM frame_twins)) AS frames,
    coalesce(sum(untagged) FILTER (NOT empty), 0)::BIGINT AS untagged,
    coalesce(sum(untagged) FILTER (empty), 0)::BIGINT AS empty
FROM (
    SELECT v.strip, v.empty AND count(t.frame) = 0 AS empty, count(*) - count(t.frame) AS untagged
    FROM page.visits v JOIN page.strips s USING (strip)
    LEFT JOIN (SELECT DISTINCT frame FROM tags) t USING (frame)
    GROUP BY v.strip, v.empty
)

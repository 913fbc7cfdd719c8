-- Two people tagged the same pictures, each with a buck of his own. Whoever tags both bucks in one picture
-- says that they are two.
DELETE FROM several_bucks WHERE frame IN (SELECT id FROM touched WHERE kind = 'frame');

INSERT INTO several_bucks
SELECT frame FROM tags
WHERE buck_id IS NOT NULL AND frame IN (SELECT id FROM touched WHERE kind = 'frame')
GROUP BY frame HAVING min(buck_id) <> max(buck_id);

DELETE FROM conflicts WHERE kind = 'two names';

-- Only with several_bucks.
INSERT INTO conflicts
WITH by_whom AS (
    SELECT DISTINCT coalesce(w.stands_for, t.frame) AS frame, n.buck_id, a.writer
    FROM tag_edits t JOIN acts a ON a.act = t.act JOIN bucks_now n ON n.buck = t.buck_id
    LEFT JOIN frame_twins w ON w.frame = t.frame
    WHERE NOT a.undone AND NOT t.gone
        AND coalesce(w.stands_for, t.frame) IN (SELECT frame FROM several_bucks)
),
standing AS (
    SELECT b.* FROM by_whom b
    WHERE EXISTS (FROM tags g JOIN bucks_now n ON n.buck = g.buck_id
        WHERE g.frame = b.frame AND n.buck_id = b.buck_id)
),
pairs AS (
    SELECT a.buck_id AS one, b.buck_id AS other, count(DISTINCT a.frame) AS frames,
        bool_or(a.writer = b.writer) AS by_one_hand
    FROM standing a JOIN standing b ON b.frame = a.frame AND a.buck_id < b.buck_id
    GROUP BY ALL
)
SELECT 'two names', [one, other],
    coalesce(x.name, one) || ' and ' || coalesce(y.name, other) || ' are tagged in the same ' || frames
        || ' pictures, each by another person',
    'if they are one: camsign buck merge ' || other || ' ' || one
        || '; if both are in the picture, tag both in one of them yourself', 0
FROM pairs JOIN bucks x ON x.buck = one JOIN bucks y ON y.buck = other
WHERE frames >= 2 AND NOT by_one_hand;

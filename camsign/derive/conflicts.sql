-- What was said twice or cannot all be so, with what settles it and how many pictures wait for it.
DELETE FROM conflicts WHERE kind NOT IN ('two names', 'cards in turns');

-- One card in several folders, or in a friend's logbook: a conflict copy of a sync service, or two took it in.
-- Only with cards_read.
INSERT INTO conflicts
WITH named AS (
    SELECT card, folder, camera FROM cards_read
    UNION ALL SELECT card, NULL, unnest(taken_as) FROM card_words WHERE len(taken_as) > 1
),
held AS (
    SELECT card, list(DISTINCT folder ORDER BY folder) FILTER (folder IS NOT NULL) AS folders,
        list(DISTINCT camera ORDER BY camera) AS cameras
    FROM named GROUP BY card HAVING count(*) > 1
)
SELECT 'one card twice', [card],
    'card ' || card || ' lies in ' || array_to_string(list_transform(folders, lambda f: 'cards/' || f), ' and ')
        || CASE WHEN len(cameras) > 1
            THEN ', taken in as ' || array_to_string(cameras, ' and as ') ELSE '' END
        || ': it counts once, for ' || c.camera,
    CASE WHEN len(cameras) > 1 AND w.camera IS NULL
        THEN 'say whose it is: camsign cards set ' || card || ' --camera ' || quoted(c.camera) END,
    (SELECT count(*) FROM frames f JOIN frame_times t USING (frame)
        WHERE f.card = c.card AND t.deployment IS NULL)
FROM held JOIN cards_now c USING (card) LEFT JOIN card_words w USING (card);

-- The same pictures on two cards that are said to be two cameras'.
-- Only with held_twice.
INSERT INTO conflicts
WITH both_hold AS (
    SELECT f.card, o.card AS other, count(*) AS n
    FROM held_twice o JOIN frames f USING (frame)
    GROUP BY ALL
)
SELECT 'two cameras', [h.card, h.other],
    n || ' pictures lie in card ' || h.card || ' of ' || c.camera || ' and in card ' || h.other
        || ' of ' || o.camera || ': they count once, for ' || c.camera,
    CASE WHEN w.camera IS NULL OR v.camera IS NULL
        THEN 'say whose they are: camsign cards set ' || h.card || ' --camera ' || quoted(o.camera)
            || ', or camsign cards set ' || h.other || ' --camera ' || quoted(c.camera) END,
    (SELECT count(*) FROM frames f JOIN frame_times t USING (frame)
        WHERE f.card = h.card AND t.deployment IS NULL)
FROM both_hold h JOIN cards_now c ON c.card = h.card JOIN cards_now o ON o.card = h.other
LEFT JOIN card_words w ON w.card = h.card LEFT JOIN card_words v ON v.card = h.other
WHERE c.camera <> o.camera;

-- One camera said twice at one place.
-- Only with deployment_twins.
INSERT INTO conflicts
SELECT 'one place twice', list(deployment ORDER BY deployment),
    any_value(d.camera) || ' was set ' || count(*) || ' times at one place and time ('
        || array_to_string(list(deployment ORDER BY deployment), ', ') || '): it counts once',
    CASE WHEN count(DISTINCT coalesce(d.clock, 'hung')) > 1
        THEN 'the clock rules differ (' || array_to_string(list(DISTINCT coalesce(d.clock, 'hung')
            ORDER BY coalesce(d.clock, 'hung')), ' and ') || '; the last word counts): camsign hang remove '
            || 'takes the wrong one away' END,
    0
FROM deployment_twins t JOIN deployments_said d USING (deployment)
GROUP BY t.stands_for;

-- One camera at two places at once; one in a time zone of which this machine has no table, so that its
-- times go by the logbook's.
-- Only with deployments.
INSERT INTO conflicts
SELECT 'two places', [a.deployment, b.deployment],
    a.camera || ' can not be at two places at once: ' || round(a.lat, 5) || ',' || round(a.lon, 5)
        || ' (' || a.deployment || ') and ' || round(b.lat, 5) || ',' || round(b.lon, 5)
        || ' (' || b.deployment || ')',
    'take the wrong one away (camsign hang remove ' || a.deployment || ', or ' || b.deployment
        || '), or say when it left the first: camsign takedown ' || quoted(a.camera) || ' --on DAY',
    (SELECT count(*) FROM frame_times t WHERE t.camera = a.camera
        AND t.several
        AND t.utc >= greatest(a.hung, b.hung)
        AND t.utc <= least(coalesce(a.taken_down, t.utc), coalesce(b.taken_down, t.utc)))
FROM deployments a JOIN deployments b ON a.camera = b.camera
    AND (a.hung, a.deployment) < (b.hung, b.deployment)
    AND b.hung < coalesce(a.taken_down, TIMESTAMP '9999-01-01')
    AND a.hung < coalesce(b.taken_down, TIMESTAMP '9999-01-01')
WHERE a.gone IS NOT TRUE AND b.gone IS NOT TRUE AND abs(a.lat) <= 90 AND abs(b.lat) <= 90
    AND abs(a.lon) <= 180 AND abs(b.lon) <= 180
UNION ALL
SELECT 'unknown zone', [deployment],
    d.camera || ' hung in a time zone that this machine does not know (' || d.tz
        || '): its times are figured in the logbook''s',
    'if that is wrong, hang it again with --tz: camsign hang remove ' || deployment || ' first',
    (SELECT count(*) FROM frame_times t WHERE t.deployment = d.deployment)
FROM deployments d
WHERE d.gone IS NOT TRUE AND d.tz NOT IN (SELECT tz FROM zone_offsets);

-- Two people merged each of two bucks into the other; or the one he was merged into is there no more.
-- Only with bucks.
INSERT INTO conflicts
SELECT 'merged both ways', list(b.buck ORDER BY b.buck),
    array_to_string(list(coalesce(b.name, b.buck) ORDER BY b.buck), ' and ')
        || CASE WHEN bool_or(b.buck = n.buck_id)
            THEN ' were each merged into the other: they count as one buck, '
            ELSE ' went into a buck whose adding was undone: the pictures of both count for nobody, ' END
        || any_value(n.name),
    CASE WHEN bool_or(b.buck = n.buck_id)
        THEN 'give him the name you want: camsign buck rename ' || n.buck_id || ' NAME'
        ELSE 'bring him back: camsign history ' || n.buck_id || ', then undo that undo' END, 0
FROM bucks b JOIN bucks_now n USING (buck)
GROUP BY n.buck_id
HAVING bool_and(b.merged_into IS NOT NULL);

-- Two bucks, or two areas, of one name.
-- Only with bucks.
INSERT INTO conflicts
SELECT 'two bucks', list(b.buck ORDER BY b.buck),
    count(*) || ' bucks are named ' || any_value(b.name) || ' ('
        || array_to_string(list(b.buck ORDER BY b.buck), ', ') || ')',
    'if they are one: camsign buck merge ' || max(b.buck) || ' ' || min(b.buck)
        || '; if not: camsign buck rename ' || max(b.buck) || ' NAME', 0
FROM bucks b JOIN bucks_now n ON n.buck = b.buck AND n.buck_id = b.buck
WHERE b.gone IS NOT TRUE AND b.name IS NOT NULL
GROUP BY lower(b.name) HAVING count(*) > 1;

-- Only with areas.
INSERT INTO conflicts
SELECT 'two areas', list(area ORDER BY area),
    count(*) || ' areas are named ' || any_value(name) || ' ('
        || array_to_string(list(area ORDER BY area), ', ') || ')',
    'if they are one: camsign area remove ' || max(area) || '; if not: camsign area rename '
        || max(area) || ' NAME', 0
FROM areas WHERE gone IS NOT TRUE AND name IS NOT NULL
GROUP BY lower(name) HAVING count(*) > 1;

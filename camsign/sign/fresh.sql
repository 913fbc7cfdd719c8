-- Looks at new sign, seen on these local days ($first, $last: both in): `bright` is a rub of this season,
-- made at the latest three days before, so not surely in these days; else it was made in them.
SELECT w.sighting, w.sign, CASE WHEN g.state = 'bright' THEN w.seen_on ELSE w.made_to END AS newest,
    g.state IS NOT DISTINCT FROM 'bright' AS bright
FROM made_windows w JOIN sightings g USING (sighting)
WHERE w.seen_on <= $last AND (
    (g.state = 'fresh' AND w.made_to BETWEEN $first AND $last)
    -- A look before it may have shown that it is older.
    OR (w.kind = 'rub' AND g.state = 'bright' AND w.seen_on >= $first AND w.made_to >= w.seen_on - 3)
    -- Somebody said from which day on it was made.
    OR (g.made_from IS NOT NULL AND w.made_from >= $first AND w.made_to <= $last))

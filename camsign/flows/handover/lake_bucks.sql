-- Bucks who stand. ended_on: no picture of him counts from after that day. linked: who he is in other
-- logbooks, as LOGBOOK/BUCK by their ids.
SELECT 'bucks' AS file, NULL::INTEGER AS season, n.buck_id, n.name AS buck, b.age, b.age_year,
    e.day AS ended_on, k.linked
FROM {main}.bucks b JOIN asked_bucks n ON n.buck = b.buck AND n.buck_id = b.buck
LEFT JOIN lake_ended e ON e.buck = b.buck
LEFT JOIN (
    SELECT w.buck_id, list_sort(list_distinct(flatten(list(o.linked)))) AS linked
    FROM {main}.bucks o JOIN asked_bucks w ON w.buck = o.buck WHERE o.linked IS NOT NULL GROUP BY ALL
) k ON k.buck_id = b.buck
WHERE b.gone IS NOT TRUE ORDER BY lower(n.name), n.buck_id

-- Bucks who stand. ended_on: no picture of him counts from after that day.
SELECT 'bucks' AS file, NULL::INTEGER AS season, n.buck_id, n.name AS buck, b.age, b.age_year,
    e.day AS ended_on
FROM {main}.bucks b JOIN asked_bucks n ON n.buck = b.buck AND n.buck_id = b.buck
LEFT JOIN lake_ended e ON e.buck = b.buck
WHERE b.gone IS NOT TRUE ORDER BY lower(n.name), n.buck_id

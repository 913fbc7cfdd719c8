-- Bucks as `buck import` takes them in.
SELECT n.name, b.buck AS buck_id, b.traits, b.age, b.age_low, b.age_high, b.age_basis, b.age_year,
    b.ended
FROM bucks b JOIN bucks_now n ON n.buck = b.buck AND n.buck_id = b.buck
WHERE b.gone IS NOT TRUE ORDER BY lower(n.name)

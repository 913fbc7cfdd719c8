SELECT e.encounter, e.sit, e.what, coalesce(n.buck_id, e.buck) AS buck_id, n.name AS buck, e.points, e.mature, e.count,
    e.seen_at, e.from_deg, e.distance_m, coalesce(e.spooked, FALSE) AS spooked, e.note
FROM encounters e JOIN sits s USING (sit) LEFT JOIN bucks_now n ON n.buck = e.buck
WHERE e.gone IS NOT TRUE AND s.gone IS NOT TRUE ORDER BY s.start, e.seen_at, e.encounter

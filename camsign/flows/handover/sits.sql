-- Every sit that stands, newest first, at its stand's place, with everybody met on it.
SELECT s.sit, s.stand, coalesce(p.name, s.stand) AS stand_name, s.start, s.stop, s.wind_deg, s.wind_ms,
    s.note, p.shape, to_json(m.met)::VARCHAR AS met
FROM sits s
JOIN places p ON p.place = s.stand
LEFT JOIN (
    SELECT sit, list({
        encounter: encounter, what: what, buck: buck, points: points, mature: mature, count: count,
        seen_at: strftime(seen_at, '%Y-%m-%dT%H:%M:%SZ'), from_deg: from_deg,
        distance_m: distance_m, spooked: spooked, note: note
    } ORDER BY seen_at NULLS LAST, encounter) AS met
    FROM encounters WHERE gone IS NOT TRUE GROUP BY sit
) m USING (sit)
WHERE s.gone IS NOT TRUE AND s.start IS NOT NULL AND s.stop > s.start AND p.shape IS NOT NULL
ORDER BY s.start DESC, s.sit

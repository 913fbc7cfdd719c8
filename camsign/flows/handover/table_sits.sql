SELECT s.sit, s.stand AS place, p.name AS stand, s.start, s.stop, s.wind_deg, s.wind_ms, s.note
FROM sits s LEFT JOIN places p ON p.place = s.stand WHERE s.gone IS NOT TRUE ORDER BY s.start, s.sit

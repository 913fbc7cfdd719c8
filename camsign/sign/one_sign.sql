-- One sign as it stands, with the habit that it shows and whose that is.
SELECT s.sign, s.kind, s.lat, s.lon, s.species, s.note, s.bed_of, h.name, n.name
FROM signs s
LEFT JOIN habits h ON h.habit = s.habit AND h.gone IS NOT TRUE
LEFT JOIN bucks_now n ON n.buck = h.buck
WHERE s.sign = $sign AND s.gone IS NOT TRUE

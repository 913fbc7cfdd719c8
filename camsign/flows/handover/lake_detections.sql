-- Tagged subjects with a place and a time, by the card that brought the picture.
SELECT coalesce(c.folder, 'no card') AS file, season_in(d.day)::INTEGER AS season,
    d.frame, d.burst, f.card, d.what, d.buck_id, d.buck, d.species, d.sex, d.stage,
    d."count", d.sure, d.camera, d.deployment, d.utc::TIMESTAMPTZ AS utc, d.local, d.day, d.night,
    d.light, d.in_daylight, d.minutes_from_sunrise, d.minutes_from_sunset, d.travel_deg, d.doubt,
    d.weak
FROM (
    SELECT v.*, coalesce(b.name, v.buck_id) AS buck FROM (
        SELECT m.* REPLACE (coalesce(n.buck_id, m.buck_id) AS buck_id)
        FROM {main}.detections m LEFT JOIN asked_bucks n ON n.buck = m.buck_id) v
    LEFT JOIN asked_bucks b ON b.buck = v.buck_id
) d
LEFT JOIN {main}.frames f USING (frame)
LEFT JOIN {main}.cards c ON c.card = f.card
ORDER BY season, file, d.utc, d.frame, d.subject

-- Visits of bucks with a sure name, merged over the cameras in reach of each area; the hunting year is
-- that of their first picture.
SELECT 'visits' AS file, season_in(day)::INTEGER AS season, area, area_id, buck, buck_id,
    utc::TIMESTAMPTZ AS utc, until_utc::TIMESTAMPTZ AS until_utc, local, day, night, camera, light,
    in_daylight, minutes_from_sunrise, minutes_from_sunset, distance_m, frames
FROM temp.main.visits ORDER BY season, area, buck, utc

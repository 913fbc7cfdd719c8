-- The visits of the asked buck at the asked area, in order.
SELECT utc, local, until_utc, camera, in_daylight, minutes_from_sunrise, minutes_from_sunset,
    distance_m, frames
FROM visited WHERE apart IS NULL ORDER BY utc

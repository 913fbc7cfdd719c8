-- Whole nights of every deployment that stands, and why a camera did not watch.
SELECT camera, deployment, night, watched, why
FROM whole_nights
WHERE $season IS NULL OR year(night) - (strftime(night, '%m-%d') < $start)::INTEGER = $season
ORDER BY lower(camera), night

-- Deployments that count, oldest first.
SELECT deployment, camera, lat, lon, hung, taken_down, worked_to_end, facing_deg, clock, tz, note
FROM deployments
WHERE gone IS NOT TRUE AND lat IS NOT NULL AND hung IS NOT NULL
ORDER BY hung, camera

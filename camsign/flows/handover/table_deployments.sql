SELECT deployment, camera, lat, lon, hung, taken_down, worked_to_end, facing_deg, clock, tz, note
FROM deployments WHERE gone IS NOT TRUE ORDER BY hung, camera

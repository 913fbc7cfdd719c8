SELECT 'deployments' AS file, NULL::INTEGER AS season, deployment, camera, lat, lon,
    hung::TIMESTAMPTZ AS hung, taken_down::TIMESTAMPTZ AS taken_down, facing_deg, clock, tz
FROM {main}.deployments WHERE gone IS NOT TRUE ORDER BY hung, camera, deployment

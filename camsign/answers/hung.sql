-- Every deployment that stands, with its place; ordered by what was said of it, since ids are random.
SELECT deployment, camera, lat, lon FROM deployments WHERE gone IS NOT TRUE
ORDER BY hung, lat, lon, deployment

-- Every deployment that stands, with its place.
SELECT deployment, camera, lat, lon FROM deployments WHERE gone IS NOT TRUE ORDER BY deployment

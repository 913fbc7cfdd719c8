-- Cameras that hang now within reach of an area. Parameters: the area, reach [m].
SELECT DISTINCT d.camera FROM deployments d JOIN area_pairs p USING (deployment)
WHERE p.area = ? AND p.distance_m <= ? AND d.gone IS NOT TRUE AND d.taken_down IS NULL
ORDER BY d.camera

-- Cameras that are up within reach of an area at an instant, UTC. Parameters: area, reach [m], at.
SELECT DISTINCT d.camera FROM deployments d JOIN area_pairs p USING (deployment)
WHERE p.area = $area AND p.distance_m <= $reach AND d.gone IS NOT TRUE
    AND (d.hung IS NULL OR d.hung <= $at) AND (d.taken_down IS NULL OR d.taken_down > $at)
ORDER BY d.camera

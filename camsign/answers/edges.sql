-- How far every kept pair of a deployment and an area's edge lies apart [m].
SELECT p.deployment, p.area, p.distance_m FROM area_pairs p JOIN areas_now a ON a.area_id = p.area

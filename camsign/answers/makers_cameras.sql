-- Cameras near one sign that hung on any day of $first to $last, the nearest first: how many nights
-- they watched then, and the last night that they are known to have watched at all.
SELECT d.deployment, d.camera, p.distance_m,
    count(*) FILTER (w.watched AND w.night BETWEEN $first AND $last) AS nights,
    max(w.night) FILTER (w.watched) AS last_night
FROM sign_pairs p JOIN deployments d USING (deployment) LEFT JOIN watch w USING (deployment)
WHERE p.sign = $sign AND d.gone IS NOT TRUE AND coalesce(d.hung < $last::DATE + 1, TRUE)
    AND (d.taken_down IS NULL OR d.taken_down >= $first::DATE + 1)
GROUP BY ALL ORDER BY p.distance_m, d.deployment

-- Which deployments watched both ends of which local days. $first, $last: days, both within.
SELECT deployment, night AS day FROM watch
WHERE day_watched AND night BETWEEN $first AND $last ORDER BY deployment, night

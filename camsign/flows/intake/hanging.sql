-- Where which camera hung, as text in UTC.
SELECT camera, strftime(hung, '%Y-%m-%dT%H:%M:%S'), coalesce(strftime(taken_down, '%Y-%m-%dT%H:%M:%S'), '')
FROM deployments
WHERE gone IS NOT TRUE AND camera IS NOT NULL AND hung IS NOT NULL
ORDER BY camera, hung

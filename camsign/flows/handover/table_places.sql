SELECT place, coalesce(name, place) AS name, kind, CAST(shape AS VARCHAR) AS shape, shoots_m
FROM places WHERE gone IS NOT TRUE ORDER BY kind, 2, place

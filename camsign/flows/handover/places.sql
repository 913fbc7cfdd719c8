SELECT place, coalesce(name, place) AS name, kind, shape, shoots_m
FROM places WHERE gone IS NOT TRUE AND shape IS NOT NULL ORDER BY kind, 2, place

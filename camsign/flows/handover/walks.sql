SELECT walk, coalesce(name, walk) AS name, started, ended, shape
FROM walks WHERE gone IS NOT TRUE AND shape IS NOT NULL ORDER BY started, walk
